/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/transfer.h"

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
    }
    if (from->bad == STORE_OK) engine_commit(from);
    if (into->bad == STORE_OK && from->bad == STORE_OK) engine_commit(into);
    if (from->bad != STORE_OK) from->driver->calls->roll_back(from->driver);
    if (into->bad != STORE_OK || from->bad != STORE_OK)
        into->driver->calls->roll_back(into->driver);
    return from->bad == STORE_OK && into->bad == STORE_OK;
}
