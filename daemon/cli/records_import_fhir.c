/* SPDX-License-Identifier: Apache-2.0 */
/* osier records import --fhir: patients become clients, their plans drafts that a clinician confirms. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "adapters/records/fhir_in.h"
#include "daemon/cli/records_import.h"
#include "daemon/cli/remote.h"
#include "daemon/cli/show_value.h"

#define BATCH_DRAFTS 5

typedef struct {
    const Import *import;
    const char *file;
    json_t *drafts; /* as fhir_in_drafts gives them */
    json_t *other;  /* type -> count */
    json_t *rows;   /* as the daemon takes them: the good ones */
    char id[9];
} In;

static char *read_file(const char *path, gsize *length, GPtrArray *faults)
{
    struct stat about;
    char *bytes = NULL;
    g_autoptr(GError) error = NULL;

    if (stat(path, &about) != 0)
        sheet_fault(faults, 0, "", "", "cannot be read: %s", g_strerror(errno));
    else if (!S_ISREG(about.st_mode))
        sheet_fault(faults, 0, "", "", "is no plain file");
    else if (about.st_size > FHIR_IN_BYTES_MAX)
        sheet_fault(faults, 0, "", "", "is larger than %d MB; cut it in parts",
                    FHIR_IN_BYTES_MAX / 1024 / 1024);
    else if (!g_file_get_contents(path, &bytes, length, &error))
        sheet_fault(faults, 0, "", "", "%s", error->message);
    return bytes;
}

/* The row that a draft is sent as (new reference). */
static json_t *row_of(const In *in, const json_t *draft)
{
    json_t *row = json_deep_copy(json_object_get(draft, "fields"));

    json_object_set(row, "row", json_object_get(draft, "row"));
    json_object_set(row, "draft", json_object_get(draft, "draft"));
    if (in->import->keep_alike) json_object_set_new(row, "alike", json_true());
    return row;
}

static void note_alike(const In *in, long row, const json_t *alike)
{
    size_t i;
    json_t *other;

    json_array_foreach((json_t *)alike, i, other)
    {
        sheet_fault(in->import->alike, row, json_string_value(json_object_get(other, "same")), "",
                    "is that of client %s", json_string_value(json_object_get(other, "client")));
    }
}

/* Is anything wrong with that resource, told by now? */
static bool has_fault(const In *in, long row)
{
    for (guint i = 0; i < in->import->faults->len; i++)
        if (((SheetFault *)in->import->faults->pdata[i])->row == row) return true;
    return false;
}

static void take_judged(In *in, json_t *row, const json_t *judged)
{
    long number = (long)json_integer_value(json_object_get(row, "row"));
    json_t *faults = json_object_get(judged, "faults");
    json_t *alike = json_object_get(judged, "alike");
    size_t i;
    json_t *fault;

    json_array_foreach(faults, i, fault)
    {
        sheet_fault(in->import->faults, number, json_string_value(json_object_get(fault, "what")),
                    json_string_value(json_object_get(fault, "value")), "%s",
                    json_string_value(json_object_get(fault, "why")));
    }
    note_alike(in, number, alike);
    if (!has_fault(in, number) && (json_array_size(alike) == 0 || in->import->keep_alike))
        json_array_append(in->rows, row);
}

static int judge(In *in)
{
    size_t count = json_array_size(in->drafts);
    int code = EXIT_OK;

    for (size_t at = 0; at < count && code == EXIT_OK; at += BATCH_DRAFTS) {
        json_t *rows = json_array(), *told = NULL;
        for (size_t i = at; i < MIN(at + BATCH_DRAFTS, count); i++)
            json_array_append_new(rows, row_of(in, json_array_get(in->drafts, i)));
        code = remote_call(in->import->cli, "POST", "/imports/check",
                           json_pack("{s:O}", "rows", rows), &told);
        for (size_t i = 0; code == EXIT_OK && i < json_array_size(rows); i++)
            take_judged(in, json_array_get(rows, i), json_array_get(told, i));
        json_decref(rows);
        json_decref(told);
    }
    return code;
}

static int call_import(const In *in, const char *what, json_t *body)
{
    g_autofree char *path = g_strdup_printf("/imports/%s/%s", in->id, what);
    json_t *answer = NULL;
    int code = remote_call(in->import->cli, "POST", path, body, &answer);

    json_decref(answer);
    return code;
}

static int save(In *in)
{
    g_autofree char *name = g_path_get_basename(in->file);
    size_t count = json_array_size(in->rows);
    int code = EXIT_OK;

    import_draw_id(in->id);
    for (size_t at = 0; at < count && code == EXIT_OK; at += BATCH_DRAFTS) {
        json_t *rows = json_array();
        for (size_t i = at; i < MIN(at + BATCH_DRAFTS, count); i++)
            json_array_append(rows, json_array_get(in->rows, i));
        code = call_import(in, "rows",
                           json_pack("{s:o, s:s, s:s?}", "rows", rows, "file",
                                     g_utf8_validate(name, -1, NULL) ? name : "?", "by",
                                     in->import->by));
        if (code != EXIT_OK && at > 0)
            call_import(in, "undo", json_pack("{s:s?}", "by", in->import->by));
    }
    return code == EXIT_OK ? call_import(in, "end", json_object()) : code;
}

/* --- telling ---------------------------------------------------------------------------------- */

static void tell_left(const In *in)
{
    size_t i;
    json_t *draft;
    const char *type, *field;
    json_t *rest, *value;

    json_array_foreach(in->drafts, i, draft)
    {
        json_t *left = json_object_get(json_object_get(draft, "draft"), "left");
        json_object_foreach(left, type, rest)
        {
            printf("  resource %" G_GINT64_FORMAT "  kept beside the draft: %s:",
                   (int64_t)json_integer_value(json_object_get(draft, "row")), type);
            json_object_foreach(rest, field, value)
            {
                g_autofree char *name = show_harmless_text(field);
                printf(" %s", name);
            }
            putchar('\n');
        }
    }
    json_object_foreach(in->other, type, value)
    {
        g_autofree char *name = show_harmless_text(type);
        printf("  not taken: %" G_GINT64_FORMAT " %s; they stay in the file\n",
               (int64_t)json_integer_value(value), name);
    }
}

static size_t plans(const In *in)
{
    size_t n = 0;

    for (size_t i = 0; i < json_array_size(in->rows); i++)
        n += json_is_object(
            json_object_get(json_object_get(json_array_get(in->rows, i), "draft"), "plan"));
    return n;
}

static void tell(const In *in, bool saved)
{
    const Import *import = in->import;

    if (import->cli->json) {
        cli_json(json_pack("{s:b, s:s?, s:i, s:i, s:o, s:o, s:O, s:O}", "saved", (int)saved,
                           "import", saved ? in->id : NULL, "clients",
                           (int)json_array_size(in->rows), "plans", (int)plans(in), "faults",
                           import_places(import->faults), "alike", import_places(import->alike),
                           "drafts", in->drafts, "not_taken", in->other));
        return;
    }
    printf("%s: %zu clients, %zu of them with a draft of a plan%s\n", in->file,
           json_array_size(in->rows), plans(in), saved ? ", were added" : "");
    tell_left(in);
    import_tell_places(import->faults, "What is wrong:");
    import_tell_places(import->alike, "Like somebody who is there:");
    if (saved)
        printf("import %s; a clinician screens each client and confirms the plan: osier records "
               "drafts\n",
               in->id);
    else
        puts("Nothing was written.");
}

/* --- the command ------------------------------------------------------------------------------ */

static bool is_clear(const In *in)
{
    const Import *import = in->import;

    return import->skip_faulty ||
           (import->faults->len == 0 && (import->alike->len == 0 || import->keep_alike));
}

static int run(In *in)
{
    gsize length = 0;
    bool saved = false;
    int code = cli_input("--fhir", in->file);

    if (code != EXIT_OK) return code;
    g_autofree char *bytes = read_file(in->file, &length, in->import->faults);
    json_t *resources = bytes != NULL ? fhir_in_read(bytes, length, in->import->faults) : NULL;
    if (resources != NULL) {
        json_decref(in->drafts);
        in->drafts = fhir_in_drafts(resources, in->other, in->import->faults);
        code = judge(in);
    }
    json_decref(resources);
    bool clear = resources != NULL && is_clear(in);
    if (code == EXIT_OK && clear && in->import->save && json_array_size(in->rows) > 0) {
        code = save(in);
        saved = code == EXIT_OK;
    }
    if (code != EXIT_OK) return code;
    tell(in, saved);
    return clear ? EXIT_OK : EXIT_DATA;
}

int import_fhir(const Import *import, const char *file)
{
    In in = {.import = import,
             .file = file,
             .drafts = json_array(),
             .other = json_object(),
             .rows = json_array()};
    int code = run(&in);

    json_decref(in.drafts);
    json_decref(in.other);
    json_decref(in.rows);
    return code;
}
