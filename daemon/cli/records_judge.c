/* SPDX-License-Identifier: Apache-2.0 */
/* Judging the rows of a spreadsheet before any is written. */
#include <string.h>

#include "daemon/cli/flight.h"
#include "daemon/cli/records_import.h"
#include "daemon/cli/remote.h"

#define BATCH_ROWS 200

/* Who was seen under a phone, a mail address, or a name with its year of birth. */
typedef struct {
    GHashTable *phones; /* -> row number */
    GHashTable *mails;
    GHashTable *names;
    GHashTable *clients; /* name and year -> client's id */
} Seen;

json_t *import_row(const Import *import, guint row, GPtrArray *faults)
{
    const SheetRow *at = &g_array_index(import->sheet->rows, SheetRow, row);
    json_t *fields = roll_fields(&import->map, import->sheet, at, import->order, faults);

    json_object_set_new(fields, "row", json_integer(at->number));
    if (import->keep_alike) json_object_set_new(fields, "alike", json_true());
    return fields;
}

/* --- people of the clinic --------------------------------------------------------------------- */

/* "ada n|1950" (g_free), or NULL where the year is not known. */
static char *name_key(const char *name, int born)
{
    if (name == NULL || born == 0) return NULL;
    g_autofree char *folded = g_utf8_casefold(name, -1);
    g_auto(GStrv) words = g_strsplit_set(folded, " .,\t", -1);
    GString *key = g_string_new(NULL);

    for (int i = 0; words[i] != NULL; i++)
        if (*words[i] != '\0') g_string_append_printf(key, "%s ", words[i]);
    g_string_append_printf(key, "|%d", born);
    return g_string_free(key, FALSE);
}

static void note_person(Seen *seen, const json_t *person)
{
    char *key = name_key(json_string_value(json_array_get(person, 1)),
                         (int)json_integer_value(json_array_get(person, 2)));

    if (key != NULL)
        g_hash_table_insert(seen->clients, key,
                            g_strdup(json_string_value(json_array_get(person, 0))));
}

static int load_people(const Import *import, Seen *seen)
{
    g_autofree char *last = g_strdup("");
    size_t count;

    do {
        json_t *page = NULL;
        int code = remote_call(import->cli, "GET", "/imports/people",
                               json_pack("{s:s}", "skip", last), &page);
        if (code != EXIT_OK) return code;
        count = json_array_size(page);
        for (size_t i = 0; i < count; i++)
            note_person(seen, json_array_get(page, i));
        if (count > 0) {
            g_free(last);
            last = g_strdup(json_string_value(json_array_get(json_array_get(page, count - 1), 0)));
        }
        json_decref(page);
    } while (count > 0);
    return EXIT_OK;
}

/* --- one row ---------------------------------------------------------------------------------- */

static const char *header_of(const Import *import, const char *field)
{
    int of = column_field_of(field);

    return of >= 0 ? column_header(&import->map, import->sheet, (ColumnField)of) : field;
}

static void take_faults(Import *import, guint row, const json_t *faults)
{
    long number = g_array_index(import->sheet->rows, SheetRow, row).number;
    size_t i;
    json_t *fault;

    json_array_foreach((json_t *)faults, i, fault)
    {
        const char *what = json_string_value(json_object_get(fault, "what"));
        /* An empty name was told before. */
        if (strcmp(what, "name") == 0 && (import->bad[row] & ROW_FAULTY) != 0) continue;
        sheet_fault(import->faults, number, header_of(import, what),
                    json_string_value(json_object_get(fault, "value")), "%s",
                    json_string_value(json_object_get(fault, "why")));
        import->bad[row] |= ROW_FAULTY;
    }
}

static void note_alike(Import *import, guint row, const char *field, const char *value,
                       const char *who)
{
    sheet_fault(import->alike, g_array_index(import->sheet->rows, SheetRow, row).number,
                header_of(import, field), value, "%s", who);
    import->bad[row] |= ROW_ALIKE;
}

static void find_before(Import *import, guint row, GHashTable *seen, const char *field,
                        const char *key, const char *shown)
{
    long number = g_array_index(import->sheet->rows, SheetRow, row).number;

    if (key == NULL) return;
    gpointer before = g_hash_table_lookup(seen, key);
    if (before == NULL) {
        g_hash_table_insert(seen, g_strdup(key), GSIZE_TO_POINTER((gsize)number));
        return;
    }
    g_autofree char *who =
        g_strdup_printf("is the same in row %lu", (gulong)GPOINTER_TO_SIZE(before));
    note_alike(import, row, field, shown, who);
}

static void find_alike(Import *import, guint row, const json_t *told, const char *name, Seen *seen)
{
    const char *phone = json_string_value(json_object_get(told, "phone"));
    const char *email = json_string_value(json_object_get(told, "email"));
    g_autofree char *key = name_key(name, (int)json_number_value(json_object_get(told, "born")));
    const char *client = key != NULL ? g_hash_table_lookup(seen->clients, key) : NULL;
    size_t i;
    json_t *other;

    json_array_foreach(json_object_get(told, "alike"), i, other)
    {
        const char *same = json_string_value(json_object_get(other, "same"));
        const char *whose = json_string_value(json_object_get(other, "name"));
        g_autofree char *who = g_strdup_printf(
            "is the %s of client %s (%s)", strcmp(same, "phone") == 0 ? "phone" : "mail address",
            json_string_value(json_object_get(other, "client")), whose != NULL ? whose : "?");
        note_alike(import, row, same, json_string_value(json_object_get(told, same)), who);
    }
    if (client != NULL) {
        g_autofree char *who =
            g_strdup_printf("and the year of birth are those of client %s", client);
        note_alike(import, row, "name", name, who);
    }
    find_before(import, row, seen->phones, "phone", phone, phone);
    find_before(import, row, seen->mails, "email", email, email);
    find_before(import, row, seen->names, "name", key, name);
}

static void count_row(Import *import, guint row, const json_t *fields)
{
    static const char *const CHANNELS[] = {"sms", "email", "phone"};
    const char *channel = json_string_value(json_object_get(fields, "channel"));
    bool kept = import->bad[row] == 0 || (import->bad[row] == ROW_ALIKE && import->keep_alike);

    if (!kept) return;
    import->writable++;
    import->consented += json_object_get(fields, "consent") != NULL;
    for (size_t i = 0; i < G_N_ELEMENTS(CHANNELS); i++)
        import->by_channel[i] += g_strcmp0(channel, CHANNELS[i]) == 0;
}

/* --- all rows --------------------------------------------------------------------------------- */

/* Rows that are with the daemon. */
typedef struct {
    Import *import;
    Seen *seen;
    guint first;
    json_t *rows;
    GPtrArray *faults; /* found here */
} Batch;

static void batch_free(void *context)
{
    Batch *batch = context;

    json_decref(batch->rows);
    g_ptr_array_unref(batch->faults);
    g_free(batch);
}

/* The faults of each row stand together, in the order of the rows. */
static void hear_batch(const json_t *told, void *context)
{
    Batch *batch = context;
    Import *import = batch->import;
    guint rows = (guint)json_array_size(batch->rows);

    for (guint i = 0; i < rows; i++) {
        const json_t *fields = json_array_get(batch->rows, i);
        const json_t *judged = json_array_get(told, i);
        guint row = batch->first + i;
        long number = g_array_index(import->sheet->rows, SheetRow, row).number;
        while (batch->faults->len > 0 &&
               ((const SheetFault *)batch->faults->pdata[0])->row <= number) {
            g_ptr_array_add(import->faults, g_ptr_array_steal_index(batch->faults, 0));
            import->bad[row] |= ROW_FAULTY;
        }
        take_faults(import, row, json_object_get(judged, "faults"));
        find_alike(import, row, judged, json_string_value(json_object_get(fields, "name")),
                   batch->seen);
        count_row(import, row, fields);
    }
    import_progress(import, "looked at", batch->first + rows);
}

static int send_batch(Import *import, Seen *seen, Flight *flight, guint first)
{
    guint end = MIN(first + BATCH_ROWS, import->sheet->rows->len);
    Batch *batch = g_new0(Batch, 1);

    *batch = (Batch){import, seen, first, json_array(), sheet_faults_new()};
    for (guint i = first; i < end; i++)
        json_array_append_new(batch->rows, import_row(import, i, batch->faults));
    return flight_post(flight, "/imports/check", json_pack("{s:O}", "rows", batch->rows), batch);
}

int import_judge(Import *import)
{
    Seen seen = {
        .phones = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
        .mails = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
        .names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
        .clients = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free),
    };
    guint rows = import->sheet->rows->len;

    import->bad = g_new0(guint8, rows + 1);
    import->swapped = roll_swapped(&import->map, import->sheet);
    int code = load_people(import, &seen);
    Flight *flight = flight_new(import->cli, hear_batch, batch_free);
    for (guint i = 0; i < rows && code == EXIT_OK; i += BATCH_ROWS)
        code = send_batch(import, &seen, flight, i);
    int heard = flight_end(flight);
    if (code == EXIT_OK) code = heard;
    g_hash_table_unref(seen.phones);
    g_hash_table_unref(seen.mails);
    g_hash_table_unref(seen.names);
    g_hash_table_unref(seen.clients);
    return code;
}
