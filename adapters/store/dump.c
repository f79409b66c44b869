/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/engine.h"
#include "adapters/store/gather.h"
#include "adapters/store/sql.h"
#include "adapters/store/store_sqlite.h"
#include "core/ledger/row.h"

static void dump_table(Tx *tx, TableId id, GString *dump)
{
    g_autofree char *sql = sql_select_ordered(id);
    Statement *statement = engine_prepare(tx, sql);

    while (engine_step(tx, statement)) {
        g_autoptr(Row) row = engine_read_row(statement, id);
        row_append_line(row, dump);
    }
    engine_give_back(statement, false);
}

char *tx_dump(Tx *tx)
{
    GString *dump = g_string_new(NULL);

    gather_flush(tx);
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (!table_of(id)->local) dump_table(tx, id, dump);
    return g_string_free(dump, FALSE);
}
