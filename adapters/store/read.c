/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/read.h"

#include "adapters/store/open.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

OpenResult store_read_open(const char *path, Tx **tx, char **why)
{
    /* checking: a copy is read whatever its mode. */
    OpenRequest request = {.path = path, .checking = true};

    return open_store_file(&request, tx, why);
}

char *store_read_close(Tx *tx)
{
    char *problem = tx->bad != STORE_OK ? g_strdup(tx->problem) : NULL;

    open_close(tx);
    return problem;
}

void store_read_rows(Tx *tx, TableId table, StoreReadRow *each, void *context)
{
    g_autofree char *sql = sql_select_ordered(table);
    bool own;

    Statement *statement = engine_borrow(tx, sql, &own);
    while (engine_step(tx, statement)) {
        g_autoptr(Row) row = engine_read_row(statement, table);
        each(row, context);
    }
    engine_give_back(statement, own);
}
