/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/engine.h"
#include "adapters/store/sql.h"
#include "adapters/store/store_sqlite.h"
#include "core/ledger/row.h"

static void dump_table(Tx *tx, TableId id, GString *dump)
{
    const Table *table = table_of(id);
    g_autofree char *select = sql_select(id);
    GString *sql = g_string_new(select);

    for (int i = 0; i < table->keys; i++)
        g_string_append_printf(sql, "%s\"%s\"", i > 0 ? ", " : " ORDER BY ", table->column[i].name);
    Statement *statement = engine_prepare(tx, sql->str);
    while (engine_step(tx, statement)) {
        g_autoptr(Row) row = engine_read_row(statement, id);
        row_append_line(row, dump);
    }
    engine_give_back(statement, false);
    g_string_free(sql, TRUE);
}

char *tx_dump(Tx *tx)
{
    GString *dump = g_string_new(NULL);

    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (!table_of(id)->local) dump_table(tx, id, dump);
    return g_string_free(dump, FALSE);
}
