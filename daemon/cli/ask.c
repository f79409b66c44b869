/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/ask.h"

#include <string.h>

#include "daemon/cli/remote.h"
#include "daemon/cli/show_value.h"

#define FIELDS_MAX 24

/* Where GOption leaves what it read, one for each field. */
typedef union {
    char *text;
    gboolean flag;
    char **list;
} Given;

static int count_fields(const Field *fields)
{
    int n = 0;

    while (fields != NULL && fields[n].option != NULL)
        n++;
    g_assert(n <= FIELDS_MAX);
    return n;
}

static void make_entries(const Field *fields, int n, Given *given, GOptionEntry *entries)
{
    for (int i = 0; i < n; i++) {
        /* As they stand: GOption would take other texts through the locale, and names are UTF-8. */
        GOptionArg kind = fields[i].type == FIELD_FLAG   ? G_OPTION_ARG_NONE
                          : fields[i].type == FIELD_LIST ? G_OPTION_ARG_FILENAME_ARRAY
                                                         : G_OPTION_ARG_FILENAME;
        entries[i] = (GOptionEntry){fields[i].option, 0, 0, kind, &given[i], "", ""};
    }
}

/* What was given as JSON (new reference); NULL where nothing was, or after a complaint with its code. */
static json_t *text_json(const Field *field, const char *text, int *code)
{
    json_t *value = json_string(text);

    if (value == NULL) *code = cli_fault(EXIT_DATA, field->option, text, "is no valid UTF-8");
    if (value == NULL || *text != '\0') return value;
    json_decref(value);
    *code = cli_fault(EXIT_USE, field->option, "", "is empty");
    return NULL;
}

static json_t *list_json(const Field *field, char **texts, int *code)
{
    json_t *list = json_array();

    for (int i = 0; texts[i] != NULL && *code == EXIT_OK; i++)
        json_array_append_new(list, text_json(field, texts[i], code));
    return list;
}

static json_t *given_json(const Field *field, const Given *given, int *code)
{
    switch (field->type) {
    case FIELD_FLAG: return given->flag ? json_true() : NULL;
    case FIELD_LIST: return given->list != NULL ? list_json(field, given->list, code) : NULL;
    case FIELD_TEXT:
    case FIELD_NUMBER: return given->text != NULL ? text_json(field, given->text, code) : NULL;
    }
    return NULL;
}

/* Puts what was given into the body. EXIT_OK, or the code after a complaint. */
static int put_fields(const Field *fields, int n, const Given *given, json_t *body)
{
    int code = EXIT_OK;

    for (int i = 0; i < n && code == EXIT_OK; i++) {
        json_t *value = given_json(&fields[i], &given[i], &code);
        if (value != NULL) json_object_set_new(body, fields[i].field, value);
    }
    return code;
}

static void free_given(const Field *fields, int n, Given *given)
{
    for (int i = 0; i < n; i++) {
        if (fields[i].type == FIELD_LIST)
            g_strfreev(given[i].list);
        else if (fields[i].type != FIELD_FLAG)
            g_free(given[i].text);
    }
}

static const Ask *find_ask(const Ask *asks, int n, const char *word, bool *uses_word)
{
    *uses_word = true;
    for (int i = 0; i < n; i++)
        if (asks[i].word != NULL && word != NULL && strcmp(asks[i].word, word) == 0)
            return &asks[i];
    *uses_word = false;
    for (int i = 0; i < n; i++)
        if (asks[i].word == NULL) return &asks[i];
    return NULL;
}

/* The path with its {id} filled (g_free); NULL after a complaint. */
static char *fill_path(const char *path, const char *id)
{
    const char *place = strstr(path, "{id}");

    if (place == NULL) return g_strdup(path);
    g_autofree char *escaped = remote_id(id);
    if (escaped == NULL) return NULL;
    return g_strdup_printf("%.*s%s%s", (int)(place - path), path, escaped, place + strlen("{id}"));
}

static int call_and_show(const Cli *cli, const Ask *ask, const char *path, const json_t *body)
{
    json_t *answer;
    int code = remote_call(cli, ask->method, path, json_deep_copy(body), &answer);

    if (code != EXIT_OK) return code;
    const json_t *warnings = json_object_get(answer, "warnings");
    for (size_t i = 0; i < json_array_size(warnings); i++)
        g_printerr("osier: note: %s\n", json_string_value(json_array_get(warnings, i)));
    if (cli->json) {
        cli_json(answer);
        return EXIT_OK;
    }
    show_harmless(answer);
    ask->show(answer);
    json_decref(answer);
    return EXIT_OK;
}

static int call_each(const Cli *cli, const Command *command, const Ask *ask, const json_t *body,
                     int argc, char **argv)
{
    bool wants_id = strstr(ask->path, "{id}") != NULL;
    int ids = argc;

    if (wants_id && argc == 0)
        return cli_fault(EXIT_USE, command->name, "", "needs an id; try: osier %s --help",
                         command->name);
    if (argc > (ask->many ? 1000 : wants_id))
        return cli_fault(EXIT_USE, command->name, argv[wants_id],
                         "is one word too many; try: osier %s --help", command->name);
    for (int i = 0; i < MAX(ids, 1); i++) {
        g_autofree char *path = fill_path(ask->path, i < argc ? argv[i] : NULL);
        int code = path != NULL ? call_and_show(cli, ask, path, body) : EXIT_NO_SUCH;
        if (code != EXIT_OK) return code;
    }
    return EXIT_OK;
}

int ask_run(const Cli *cli, const Command *command, const Ask *asks, int n, int argc, char **argv)
{
    bool uses_word;
    const Ask *ask = find_ask(asks, n, argc > 1 ? argv[1] : NULL, &uses_word);
    GOptionEntry entries[FIELDS_MAX + 1] = {0};
    Given given[FIELDS_MAX] = {0};

    if (ask == NULL)
        return cli_fault(EXIT_USE, command->name, argc > 1 ? argv[1] : "",
                         "is not understood; try: osier %s --help", command->name);
    int n_fields = count_fields(ask->fields);
    make_entries(ask->fields, n_fields, given, entries);
    json_t *body = json_object();
    int code = cli_options(command, entries, &argc, &argv)
                   ? put_fields(ask->fields, n_fields, given, body)
                   : EXIT_USE;
    int skip = uses_word ? 2 : 1;
    if (code == EXIT_OK) code = call_each(cli, command, ask, body, argc - skip, argv + skip);
    free_given(ask->fields, n_fields, given);
    json_decref(body);
    return code;
}
