/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/cli.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/show_value.h"

void cli_begin(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) < 0)
            (void)!open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

int cli_end(int code)
{
    errno = 0;
    if ((fflush(stdout) == 0 && !ferror(stdout)) || code != EXIT_OK) return code;
    return cli_fault(EXIT_IO, "output", "standard output", "cannot be written%s%s",
                     errno != 0 ? ": " : "", errno != 0 ? g_strerror(errno) : "");
}

/* A fault is one line, whatever was typed or answered: control characters are shown, not obeyed. */
static char *in_one_line(const char *text)
{
    GString *line = g_string_new(NULL);

    for (const char *at = text; *at != '\0'; at++) {
        unsigned char c = (unsigned char)*at;
        if (c == '\n')
            g_string_append(line, "\\n");
        else if (c < 0x20 || c == 0x7f)
            g_string_append_printf(line, "\\x%02x", c);
        else
            g_string_append_c(line, *at);
    }
    return g_string_free(line, FALSE);
}

int cli_fault(int code, const char *what, const char *value, const char *why, ...)
{
    va_list list;

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    g_autofree char *told =
        g_strdup_printf("osier: %s: %s: %s", what, value != NULL ? value : "", reason);
    g_autofree char *shown = in_one_line(told);
    g_autofree char *line = show_harmless_text(shown);
    fprintf(stderr, "%s\n", line);
    return code;
}

/* The entry of "--NAME" or "--NAME=VALUE", or NULL. */
static const GOptionEntry *entry_of(const GOptionEntry *entries, const char *word)
{
    size_t length = strcspn(word, "=");

    if (!g_str_has_prefix(word, "--")) return NULL;
    for (const GOptionEntry *entry = entries; entry->long_name != NULL; entry++)
        if (strlen(entry->long_name) == length - 2 &&
            strncmp(entry->long_name, word + 2, length - 2) == 0)
            return entry;
    return NULL;
}

static bool is_single(const GOptionEntry *entry)
{
    return entry->arg != G_OPTION_ARG_NONE && entry->arg != G_OPTION_ARG_STRING_ARRAY &&
           entry->arg != G_OPTION_ARG_FILENAME_ARRAY;
}

const GOptionEntry *cli_twice(const GOptionEntry *entries, int argc, char **argv)
{
    g_autoptr(GHashTable) seen = g_hash_table_new(NULL, NULL);

    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
        const GOptionEntry *entry = entry_of(entries, argv[i]);
        if (entry == NULL) continue;
        if (!g_hash_table_add(seen, (gpointer)entry) && is_single(entry)) return entry;
        if (entry->arg != G_OPTION_ARG_NONE && strchr(argv[i], '=') == NULL) i++; /* its value */
    }
    return NULL;
}

bool cli_options(const Command *command, const GOptionEntry *entries, int *argc, char ***argv)
{
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    g_autoptr(GError) error = NULL;

    const GOptionEntry *twice = cli_twice(entries, *argc, *argv);
    if (twice != NULL) {
        g_autofree char *option = g_strconcat("--", twice->long_name, NULL);
        cli_fault(EXIT_USE, command->name, option, CLI_TWICE);
        return false;
    }
    g_option_context_set_help_enabled(context, FALSE);
    g_option_context_add_main_entries(context, entries, NULL);
    if (g_option_context_parse(context, argc, argv, &error)) return true;
    /* Texts are taken as they stand; what GOption converts are dates, numbers and keys. */
    const char *why = error->domain == G_CONVERT_ERROR
                          ? "an option's value holds what is no letter, digit or sign of ASCII"
                          : error->message;
    cli_fault(EXIT_USE, command->name, why, "try: osier %s --help", command->name);
    return false;
}

void cli_json(json_t *document)
{
    json_dumpf(document, stdout,
               JSON_COMPACT | JSON_ENCODE_ANY | JSON_PRESERVE_ORDER |
                   JSON_REAL_PRECISION(15)); /* 76.4, not 76.400000000000006 */
    putchar('\n');
    json_decref(document);
}

json_t *cli_path(const char *path)
{
    g_autofree char *valid = g_utf8_make_valid(path, -1);

    return json_string(valid);
}

int cli_input(const char *what, const char *path)
{
    if (g_file_test(path, G_FILE_TEST_EXISTS)) return EXIT_OK;
    return cli_fault(EXIT_NO_SUCH, what, path, "there is no such file");
}

/* All of it, and on the device. False with errno. */
static bool write_all(int file, const char *text)
{
    for (size_t left = strlen(text); left > 0;) {
        ssize_t written = write(file, text, left);
        if (written < 0) return false;
        text += written;
        left -= (size_t)written;
    }
    return fsync(file) == 0;
}

int cli_make_file(const char *what, const char *path, const char *text)
{
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);

    if (file < 0)
        return cli_fault(EXIT_CANNOT_MAKE, what, path, "cannot be made: %s", g_strerror(errno));
    bool kept = write_all(file, text);
    int error = errno;
    if (close(file) == 0 && kept) return EXIT_OK;
    unlink(path); /* so that it can be tried again */
    return cli_fault(EXIT_IO, what, path, "cannot be written: %s", g_strerror(error));
}
