/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/transfer.h"

#include <string.h>

#include "adapters/store/migrate.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

static void transfer_events(Tx *from, Tx *into)
{
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event ORDER BY replica, seq", NULL);
    Statement *events = engine_walk(from, sql);
    Event event;

    while (into->bad == STORE_OK && engine_step(from, events)) {
        engine_read_event(events, &event);
        engine_insert_event(into, &event);
    }
    engine_give_back(events, true);
}

static void transfer_table(Tx *from, Tx *into, TableId id)
{
    const Table *table = table_of(id);
    g_autofree char *select = sql_select(id);
    g_autofree char *sql = g_strconcat(select, table->long_rows ? " ORDER BY rowid" : "", NULL);
    g_autofree char *put = sql_put(id);
    Statement *rows = engine_walk(from, sql), *written = engine_prepare(into, put);

    while (into->bad == STORE_OK && engine_step(from, rows)) {
        g_autoptr(Row) row = engine_read_row(rows, id);
        engine_bind_row(written, row, table->columns);
        engine_quiet(into, written);
    }
    engine_give_back(rows, true);
}

bool transfer_all(Tx *from, Tx *into)
{
    if (engine_exec(from, "BEGIN") && engine_begin(into) && migrate_make_all(into)) {
        transfer_events(from, into);
        for (TableId id = 0; id < TABLE_COUNT; id++)
            transfer_table(from, into, id);
        engine_forget(into);
    }
    if (from->bad == STORE_OK) engine_commit(from);
    if (into->bad == STORE_OK && from->bad == STORE_OK) engine_commit(into);
    if (from->bad != STORE_OK) from->driver->calls->roll_back(from->driver);
    if (into->bad != STORE_OK || from->bad != STORE_OK)
        into->driver->calls->roll_back(into->driver);
    return from->bad == STORE_OK && into->bad == STORE_OK;
}

static void add_bytes(GChecksum *sum, const void *bytes, size_t length)
{
    uint64_t size = GUINT64_TO_BE((uint64_t)length);

    g_checksum_update(sum, (const guchar *)&size, sizeof size);
    if (length > 0) g_checksum_update(sum, bytes, (gssize)length);
}

static void add_text(GChecksum *sum, const char *text)
{
    add_bytes(sum, text, text != NULL ? strlen(text) : 0);
    add_bytes(sum, text != NULL ? "text" : "null", 4);
}

static void add_event(GChecksum *sum, const Event *event)
{
    const int64_t numbers[] = {GINT64_TO_BE(event->seq), GINT64_TO_BE(event->wall),
                               GINT64_TO_BE(event->logical)};
    const char *const texts[] = {event->replica, event->kind, event->subject,
                                 event->author,  event->base, event->body};

    add_bytes(sum, numbers, sizeof numbers);
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
        add_text(sum, texts[i]);
    add_bytes(sum, event->salt, SALT_BYTES);
    add_bytes(sum, event->digest, DIGEST_BYTES);
    add_bytes(sum, event->body_hash, DIGEST_BYTES);
}

static void add_events(Tx *tx, GChecksum *sum)
{
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event ORDER BY replica, seq", NULL);
    Statement *events = engine_walk(tx, sql);
    Event event;

    while (engine_step(tx, events)) {
        engine_read_event(events, &event);
        add_event(sum, &event);
    }
    engine_give_back(events, true);
}

static void add_table(Tx *tx, TableId id, GChecksum *sum)
{
    g_autofree char *sql = sql_select_ordered(id);
    Statement *rows = engine_walk(tx, sql);

    while (engine_step(tx, rows)) {
        g_autoptr(Row) row = engine_read_row(rows, id);
        g_autoptr(GString) line = g_string_new(NULL);
        row_append_line(row, line);
        add_bytes(sum, line->str, line->len);
    }
    engine_give_back(rows, true);
}

char *transfer_digest(Tx *tx)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);

    if (engine_exec(tx, "BEGIN")) add_events(tx, sum);
    for (TableId id = 0; id < TABLE_COUNT && tx->bad == STORE_OK; id++)
        add_table(tx, id, sum);
    bool good = tx->bad == STORE_OK;
    tx->driver->calls->roll_back(tx->driver);
    return good ? g_strdup(g_checksum_get_string(sum)) : NULL;
}
