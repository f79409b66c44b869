/* SPDX-License-Identifier: Apache-2.0 */
/* Telling what an import would do, or did. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/records_import.h"
#include "daemon/cli/show_value.h"

/* More than anybody reads; --json has them all. */
#define LINES_MAX 200

json_t *import_places(const GPtrArray *faults)
{
    json_t *list = json_array();

    for (guint i = 0; i < faults->len; i++) {
        const SheetFault *fault = faults->pdata[i];
        json_array_append_new(list, json_pack("{s:I, s:s, s:s, s:s}", "row", (json_int_t)fault->row,
                                              "column", fault->column, "value", fault->value, "why",
                                              fault->why));
    }
    return list;
}

static json_t *columns(const Import *import)
{
    json_t *found = json_object();

    for (int i = 0; i < COLUMN_FIELDS; i++)
        if (import->map.at[i] >= 0)
            json_object_set_new(found, column_field_name((ColumnField)i),
                                json_string(import->sheet->header[import->map.at[i]]));
    return found;
}

static json_t *left(const Import *import)
{
    json_t *list = json_array();

    for (guint i = 0; i < import->map.left->len; i++)
        json_array_append_new(list, json_string(import->map.left->pdata[i]));
    return list;
}

static void tell_json(const Import *import, bool saved)
{
    json_t *document =
        json_pack("{s:b, s:s?, s:o, s:o}", "saved", (int)saved, "import", saved ? import->id : NULL,
                  "faults", import_places(import->faults), "alike", import_places(import->alike));

    if (import->sheet != NULL)
        json_object_update_missing_new(
            document,
            json_pack("{s:s, s:i, s:o, s:o, s:i, s:i, s:s?, s:s}", "encoding",
                      import->sheet->encoding, "rows", (int)import->sheet->rows->len, "columns",
                      columns(import), "not_taken", left(import), "clients", (int)import->writable,
                      "with_consent", (int)import->consented, "swapped", import->swapped, "dates",
                      import->order == DATES_DAY_FIRST ? "day-first" : "month-first"));
    cli_json(document);
}

static void tell_columns(const Import *import)
{
    printf("  columns: ");
    for (int i = 0, n = 0; i < COLUMN_FIELDS; i++) {
        if (import->map.at[i] < 0) continue;
        g_autofree char *header = show_harmless_text(import->sheet->header[import->map.at[i]]);
        printf("%s%s = %s", n++ > 0 ? ", " : "", column_field_name((ColumnField)i), header);
    }
    putchar('\n');
    for (guint i = 0; i < import->map.left->len; i++) {
        g_autofree char *left_out = show_harmless_text(import->map.left->pdata[i]);
        printf("  not taken: %s\n", left_out);
    }
    if (import->swapped != NULL) printf("  %s\n", import->swapped);
    printf("  dates are read with the %s first (--dates)\n",
           import->order == DATES_DAY_FIRST ? "day" : "month");
}

void import_tell_places(const GPtrArray *faults, const char *title)
{
    if (faults->len == 0) return;
    printf("%s\n", title);
    for (guint i = 0; i < faults->len && i < LINES_MAX; i++) {
        const SheetFault *fault = faults->pdata[i];
        if (fault->row > 0) printf("  row %ld", fault->row);
        g_autofree char *column = show_harmless_text(fault->column);
        g_autofree char *value = show_harmless_text(fault->value);
        if (*column != '\0') printf("  %s", column);
        if (*value != '\0') printf("  \"%s\"", value);
        printf("  %s\n", fault->why);
    }
    if (faults->len > LINES_MAX)
        printf("  and %u more; --json lists all\n", faults->len - LINES_MAX);
}

static void tell_clients(const Import *import, bool saved)
{
    guint without = import->writable - import->consented;

    printf("%u %s: %u by text, %u by mail, %u by phone\n", import->writable,
           saved ? "clients were added" : "rows would become clients", import->by_channel[0],
           import->by_channel[1], import->by_channel[2]);
    if (without > 0)
        printf("%u without a recorded consent: nobody messages them until it is recorded\n",
               without);
}

static void tell_end(const Import *import, bool saved)
{
    bool rows = import_has_rows(import);

    if (saved)
        printf("import %s; osier records undo %s takes it back\n", import->id, import->id);
    else if (!import_is_clear(import))
        printf("Nothing was written. Mend the file%s%s.\n",
               rows ? ", or leave these rows out with --skip-faulty" : "",
               rows && import->alike->len > 0 && !import->keep_alike
                   ? ", or import who is alike with --keep-alike"
                   : "");
    else if (import->writable == 0)
        puts("Nothing was written: there is no row that could be.");
    else
        puts("Nothing was written yet. The same with --save imports.");
}

static gint by_row(gconstpointer a, gconstpointer b)
{
    long one = (*(SheetFault *const *)a)->row, other = (*(SheetFault *const *)b)->row;

    return one < other ? -1 : one > other;
}

void import_tell(const Import *import, bool saved)
{
    g_ptr_array_sort(import->faults, by_row);
    if (import->cli->json) {
        tell_json(import, saved);
        return;
    }
    if (import->sheet != NULL) {
        printf("%s: %u rows, %s\n", import->file, import->sheet->rows->len,
               import->sheet->encoding);
        tell_columns(import);
        tell_clients(import, saved);
    } else {
        printf("%s:\n", import->file);
    }
    import_tell_places(import->faults, "What is wrong:");
    import_tell_places(import->alike, "Like somebody who is there:");
    tell_end(import, saved);
}
