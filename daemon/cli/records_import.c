/* SPDX-License-Identifier: Apache-2.0 */
/* osier records import, imports, undo. The file is read here, rows are judged and written by osierd, some at a time. Nothing is
 * written before every row was judged; where a later part cannot be written, those before it are taken back. */
#include "daemon/cli/records_import.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/flight.h"
#include "daemon/cli/records.h"
#include "daemon/cli/remote.h"
#include "daemon/cli/show_value.h"

#define BATCH_ROWS 100

void import_draw_id(char id[9])
{
    static const char LETTERS[] = "23456789ABCDEFGHJKMNPQRSTVWXYZ";

    for (int i = 0; i < 8; i++)
        id[i] = LETTERS[g_random_int_range(0, (gint32)strlen(LETTERS))];
    id[8] = '\0';
}

void import_progress(const Import *import, const char *doing, guint done)
{
    guint all = import->sheet->rows->len;
    guint filled = all > 0 ? (guint)((guint64)done * 30 / all) : 30;

    if (import->cli->json || !isatty(STDERR_FILENO)) return;
    fprintf(stderr, "\r[%.*s%.*s] %s %u of %u rows%s", (int)filled,
            "##############################", (int)(30 - filled), "..............................",
            doing, done, all, done >= all ? "\n" : "");
}

static int undo(const Cli *cli, const char *id, const char *by, json_t **answer)
{
    g_autofree char *escaped = remote_id(id);
    if (escaped == NULL) return EXIT_NO_SUCH;
    g_autofree char *path = g_strdup_printf("/imports/%s/undo", escaped);

    return remote_call(cli, "POST", path, json_pack("{s:s?}", "by", by), answer);
}

/* --- writing ---------------------------------------------------------------------------------- */

static bool is_written(const Import *import, guint row)
{
    return import->bad[row] == 0 || (import->bad[row] == ROW_ALIKE && import->keep_alike);
}

static int write_batch(const Import *import, Flight *flight, const char *path, json_t *rows)
{
    g_autofree char *file = g_path_get_basename(import->file);

    return flight_post(flight, path,
                       json_pack("{s:o, s:s?, s:s}", "rows", rows, "by", import->by, "file",
                                 g_utf8_validate(file, -1, NULL) ? file : "?"),
                       NULL);
}

static int write_rows(Import *import)
{
    g_autofree char *path = g_strdup_printf("/imports/%s/rows", import->id);
    g_autoptr(GPtrArray) unheard = sheet_faults_new();
    guint rows = import->sheet->rows->len, at = 0;
    Flight *flight = flight_new(import->cli, NULL, NULL);
    int code = EXIT_OK;

    while (at < rows && code == EXIT_OK) {
        json_t *batch = json_array();
        for (; at < rows && json_array_size(batch) < BATCH_ROWS; at++)
            if (is_written(import, at))
                json_array_append_new(batch, import_row(import, at, unheard));
        import->good += (guint)json_array_size(batch);
        code = write_batch(import, flight, path, batch);
        import_progress(import, "wrote", at);
    }
    int heard = flight_end(flight);
    return code != EXIT_OK ? code : heard;
}

static int write_all(Import *import)
{
    g_autofree char *end = g_strdup_printf("/imports/%s/end", import->id);
    json_t *answer = NULL;
    int code = write_rows(import);

    if (code == EXIT_OK) code = remote_call(import->cli, "POST", end, json_object(), &answer);
    if (code != EXIT_OK && import->good > BATCH_ROWS &&
        undo(import->cli, import->id, import->by, &answer) != EXIT_OK)
        return cli_fault(code, "import", import->id,
                         "is written in part; take it back with: osier records undo %s",
                         import->id);
    json_decref(answer);
    return code;
}

/* --- the command ------------------------------------------------------------------------------ */

static int read_order(Import *import)
{
    json_t *answer = NULL;
    int code = remote_call(import->cli, "GET", "/imports", json_object(), &answer);

    if (code != EXIT_OK) return code;
    const char *country = json_string_value(json_object_get(answer, "country_code"));
    /* The countries of code 1 write the month first, most others the day (common practice). */
    import->order = strcmp(country, "1") == 0 ? DATES_MONTH_FIRST : DATES_DAY_FIRST;
    json_decref(answer);
    if (import->dates == NULL) return EXIT_OK;
    if (strcmp(import->dates, "day-first") != 0 && strcmp(import->dates, "month-first") != 0)
        return cli_fault(EXIT_USE, "--dates", import->dates,
                         "must be one of day-first, month-first");
    import->order = strcmp(import->dates, "day-first") == 0 ? DATES_DAY_FIRST : DATES_MONTH_FIRST;
    return EXIT_OK;
}

bool import_has_rows(const Import *import)
{
    for (guint i = 0; i < import->faults->len; i++)
        if (((SheetFault *)import->faults->pdata[i])->row <= 1) return false;
    return import->sheet != NULL;
}

bool import_is_clear(const Import *import)
{
    if (!import_has_rows(import)) return false;
    return import->skip_faulty ||
           (import->faults->len == 0 && (import->keep_alike || import->alike->len == 0));
}

static int run_import(Import *import)
{
    bool saved = false;
    int code = read_order(import);

    if (code == EXIT_OK) code = cli_input("--csv", import->file);
    if (code != EXIT_OK) return code;
    import->sheet = sheet_read(import->file, import->faults);
    if (import->sheet != NULL) {
        column_map_make(&import->map, import->sheet, (const char *const *)import->maps,
                        import->faults);
        code = import_judge(import);
    }
    if (code != EXIT_OK) return code;
    bool clear = import_is_clear(import);
    if (import->save && clear && import->writable > 0) {
        import_draw_id(import->id);
        code = write_all(import);
        saved = code == EXIT_OK;
    }
    if (code != EXIT_OK) return code;
    import_tell(import, saved);
    return clear ? EXIT_OK : EXIT_DATA;
}

static void import_clear(Import *import)
{
    if (import->sheet != NULL) column_map_clear(&import->map);
    sheet_free(import->sheet);
    g_ptr_array_unref(import->faults);
    g_ptr_array_unref(import->alike);
    g_free(import->bad);
    g_free(import->swapped);
    g_free(import->file);
    g_strfreev(import->maps);
    g_free(import->dates);
    g_free(import->by);
}

int records_import(const Cli *cli, int argc, char **argv)
{
    Import import = {.cli = cli, .faults = sheet_faults_new(), .alike = sheet_faults_new()};
    g_autofree char *fhir = NULL;
    const GOptionEntry entries[] = {
        {.long_name = "csv", .arg = G_OPTION_ARG_FILENAME, .arg_data = &import.file},
        {.long_name = "fhir", .arg = G_OPTION_ARG_FILENAME, .arg_data = &fhir},
        {.long_name = "map", .arg = G_OPTION_ARG_FILENAME_ARRAY, .arg_data = &import.maps},
        {.long_name = "dates", .arg = G_OPTION_ARG_FILENAME, .arg_data = &import.dates},
        {.long_name = "by", .arg = G_OPTION_ARG_FILENAME, .arg_data = &import.by},
        {.long_name = "save", .arg = G_OPTION_ARG_NONE, .arg_data = &import.save},
        {.long_name = "skip-faulty", .arg = G_OPTION_ARG_NONE, .arg_data = &import.skip_faulty},
        {.long_name = "keep-alike", .arg = G_OPTION_ARG_NONE, .arg_data = &import.keep_alike},
        {0},
    };
    int code = EXIT_USE;

    if (cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) {
        if (argc > 1 || (import.file == NULL) == (fhir == NULL))
            cli_fault(EXIT_USE, "records import", argc > 1 ? argv[1] : "",
                      "needs --csv FILE or --fhir FILE; try: osier records --help");
        else
            code = fhir != NULL ? import_fhir(&import, fhir) : run_import(&import);
    }
    import_clear(&import);
    return code;
}

static const char *state_of(const json_t *import)
{
    if (json_is_true(json_object_get(import, "undone"))) return "taken back";
    return json_is_true(json_object_get(import, "whole")) ? "whole" : "cut off";
}

int records_imports(const Cli *cli, int argc, char **argv)
{
    json_t *answer = NULL;
    size_t i;
    json_t *import;

    if (argc > 1) return cli_fault(EXIT_USE, "records imports", argv[1], "takes no words");
    int code = remote_call(cli, "GET", "/imports", json_object(), &answer);
    if (code != EXIT_OK) return code;
    json_t *list = json_object_get(answer, "imports");
    if (cli->json) {
        cli_json(json_incref(list));
        json_decref(answer);
        return EXIT_OK;
    }
    show_harmless(list);
    json_array_foreach(list, i, import)
    {
        printf("%s  %s  %-10s  %6" G_GINT64_FORMAT " clients  %s\n",
               json_string_value(json_object_get(import, "import")),
               json_string_value(json_object_get(import, "at")), state_of(import),
               (int64_t)json_integer_value(json_object_get(import, "rows")),
               json_string_value(json_object_get(import, "file")));
    }
    if (json_array_size(list) == 0) puts("nothing was imported here");
    json_decref(answer);
    return EXIT_OK;
}

int records_undo(const Cli *cli, int argc, char **argv)
{
    g_autofree char *by = NULL;
    const GOptionEntry entries[] = {
        {.long_name = "by", .arg = G_OPTION_ARG_FILENAME, .arg_data = &by},
        {0},
    };
    json_t *answer = NULL;

    if (!cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2)
        return cli_fault(EXIT_USE, "records undo", argc > 2 ? argv[2] : "",
                         "needs one import's id; osier records imports lists them");
    int code = undo(cli, argv[1], by, &answer);
    if (code != EXIT_OK) return code;
    if (cli->json) {
        cli_json(answer);
        return EXIT_OK;
    }
    const json_t *left = json_object_get(answer, "left");
    printf("%" G_GINT64_FORMAT " clients are taken back, with all that was written about them\n",
           (int64_t)json_integer_value(json_object_get(answer, "undone")));
    for (size_t i = 0; i < json_array_size(left); i++)
        printf("client %s stays: more was written since the import; osier client end or erase\n",
               json_string_value(json_array_get(left, i)));
    json_decref(answer);
    return EXIT_OK;
}
