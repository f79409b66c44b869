/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/records_tables.h"

#include <string.h>

#include "adapters/records/columns.h"
#include "adapters/records/table_file.h"
#include "adapters/store/find_people.h"
#include "core/calendar/date.h"
#include "core/ledger/row.h"
#include "core/wire/message.h"

typedef struct {
    TableFile *file;
    int64_t rows;
} Sink;

/* Instants are whole numbers of milliseconds in columns of these names. */
static bool is_instant(const Column *column)
{
    static const char *const NAMES[] = {"at",  "utc",   "until",   "arrived", "wall",
                                        "cut", "to_ms", "from_ms", "joined",  NULL};

    if (column->type != COLUMN_INTEGER) return false;
    return g_strv_contains(NAMES, column->name) || g_str_has_suffix(column->name, "_at") ||
           g_str_has_suffix(column->name, "_wall");
}

static void put_value(TableFile *file, const Row *row, int at)
{
    const Column *column = &table_of(row_table(row))->column[at];

    if (row_is_null(row, at)) {
        table_file_text(file, NULL);
    } else if (column->type == COLUMN_TEXT) {
        table_file_text(file, row_text(row, at));
    } else if (column->type == COLUMN_REAL) {
        table_file_real(file, row_real(row, at));
    } else if (is_instant(column)) {
        g_autofree char *text = instant_format_exact(row_int(row, at));
        table_file_text(file, text);
    } else {
        table_file_integer(file, row_int(row, at));
    }
}

static void put_row(const Row *row, void *context)
{
    Sink *sink = context;
    const Table *table = table_of(row_table(row));

    for (int i = 0; i < table->columns; i++)
        put_value(sink->file, row, i);
    table_file_end_row(sink->file);
    sink->rows++;
}

static void write_table(Tx *tx, TableId id, Sink *sink)
{
    const Table *table = table_of(id);

    for (int i = 0; i < table->columns; i++)
        table_file_text(sink->file, table->column[i].name);
    table_file_end_row(sink->file);
    store_read_rows(tx, id, put_row, sink);
}

/* --- the ledger ------------------------------------------------------------------------------- */

static bool put_event(const Event *event, void *context)
{
    Sink *sink = context;
    g_autofree char *wall = instant_format_exact(event->wall);

    table_file_text(sink->file, event->replica);
    table_file_integer(sink->file, event->seq);
    table_file_text(sink->file, wall);
    table_file_integer(sink->file, event->logical);
    table_file_text(sink->file, event->kind);
    table_file_text(sink->file, event->subject);
    table_file_text(sink->file, event->author);
    table_file_text(sink->file, event->base);
    table_file_text(sink->file, event->body);
    table_file_end_row(sink->file);
    sink->rows++;
    return true;
}

static void write_events(Tx *tx, TableId id, Sink *sink)
{
    static const char *const HEADER[] = {"replica", "seq",    "wall", "logical", "kind",
                                         "subject", "author", "base", "body"};

    (void)id;
    for (size_t i = 0; i < G_N_ELEMENTS(HEADER); i++)
        table_file_text(sink->file, HEADER[i]);
    table_file_end_row(sink->file);
    tx_events(tx, "1 = 1", put_event, sink, "");
}

/* --- clients ---------------------------------------------------------------------------------- */

/* The settings of one client, as texts. */
static void take_setting(const char *field, const char *value, void *context)
{
    json_t *parsed = value != NULL ? json_loads(value, JSON_DECODE_ANY, NULL) : NULL;

    if (json_is_string(parsed))
        g_hash_table_insert(context, g_strdup(field), g_strdup(json_string_value(parsed)));
    else if (json_is_number(parsed))
        g_hash_table_insert(context, g_strdup(field),
                            g_strdup_printf("%.15g", json_number_value(parsed)));
    else if (json_is_boolean(parsed))
        g_hash_table_insert(context, g_strdup(field),
                            g_strdup(json_is_true(parsed) ? "yes" : "no"));
    json_decref(parsed);
}

/* "sms: signed form, R. Okafor, 2026-03-01" of the client's own channel (g_free), or NULL. */
static char *consent_of(Tx *tx, const char *client, const char *channel)
{
    g_autoptr(GPtrArray) contacts = find_contacts(tx, client);

    for (guint i = 0; i < contacts->len; i++) {
        const char *text = row_text(contacts->pdata[i], CONTACT_CONSENT);
        if (text != NULL && g_strcmp0(row_text(contacts->pdata[i], CONTACT_CHANNEL), channel) == 0)
            return g_strdup_printf("%s: %s", channel, text);
    }
    return NULL;
}

static const ColumnField CLIENT_FIELDS[] = {
    COLUMN_NAME,     COLUMN_PHONE, COLUMN_EMAIL,   COLUMN_BORN,       COLUMN_CHANNEL,
    COLUMN_LANGUAGE, COLUMN_ZONE,  COLUMN_CONSENT, COLUMN_USUAL_PAIN, COLUMN_STATURE_CM,
    COLUMN_LEG_CM,   COLUMN_NEEDS, COLUMN_WORDING, COLUMN_CALENDAR,
};

static void put_client(Tx *tx, const char *client, Sink *sink)
{
    g_autoptr(GHashTable) fields = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);

    find_setting_values(tx, client, take_setting, fields);
    char *consent = consent_of(tx, client, g_hash_table_lookup(fields, "channel"));
    if (consent != NULL) g_hash_table_insert(fields, g_strdup("consent"), consent);
    table_file_text(sink->file, client);
    for (size_t i = 0; i < G_N_ELEMENTS(CLIENT_FIELDS); i++)
        table_file_text(sink->file,
                        g_hash_table_lookup(fields, column_field_name(CLIENT_FIELDS[i])));
    table_file_end_row(sink->file);
    sink->rows++;
}

static void write_clients(Tx *tx, TableId id, Sink *sink)
{
    g_autoptr(GPtrArray) clients = find_clients(tx);

    (void)id;
    table_file_text(sink->file, "client_id");
    for (size_t i = 0; i < G_N_ELEMENTS(CLIENT_FIELDS); i++)
        table_file_text(sink->file, column_field_name(CLIENT_FIELDS[i]));
    table_file_end_row(sink->file);
    for (guint i = 0; i < clients->len; i++)
        put_client(tx, clients->pdata[i], sink);
}

/* --- all of it -------------------------------------------------------------------------------- */

static char *write_file(Tx *tx, const char *folder, const char *name, TableId id,
                        void (*write)(Tx *, TableId, Sink *), int64_t *rows)
{
    g_autofree char *file = g_strconcat(name, ".csv", NULL);
    g_autofree char *path = g_build_filename(folder, file, NULL);
    g_autofree char *why = NULL;
    Sink sink = {.file = table_file_new(path, &why)};

    if (sink.file == NULL) return g_strdup_printf("%s %s", file, why);
    write(tx, id, &sink);
    g_autofree char *problem = table_file_close(sink.file);
    *rows += sink.rows;
    return problem != NULL ? g_strdup_printf("%s %s", file, problem) : NULL;
}

static bool is_kept_back(TableId id)
{
    return id == TABLE_ACCOUNT || id == TABLE_CARD || id == TABLE_CODE || id == TABLE_CURSOR ||
           id == TABLE_PEER || id == TABLE_META;
}

char *records_tables(Tx *tx, const char *folder, int64_t *rows)
{
    char *problem = write_file(tx, folder, "clients", TABLE_SETTING, write_clients, rows);

    if (problem == NULL)
        problem = write_file(tx, folder, "event", TABLE_SETTING, write_events, rows);
    for (TableId id = 0; id < TABLE_COUNT && problem == NULL; id++)
        if (!is_kept_back(id))
            problem = write_file(tx, folder, table_of(id)->name, id, write_table, rows);
    return problem;
}
