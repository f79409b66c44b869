/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/scratch.h"

#include "adapters/store/sql.h"
#include "adapters/store/sqlite.h"

/* Cards are torn up as rows are put, so they have a table too. */
static void make_tables(Tx *scratch)
{
    bool made = true;

    for (TableId id = 0; id < TABLE_COUNT && made; id++) {
        g_autoptr(GPtrArray) statements = sql_create(scratch->driver->dialect, id);
        bool wanted = !table_of(id)->local || id == TABLE_CARD;
        made = !wanted || engine_exec(scratch, statements->pdata[0]);
    }
}

/* Nothing is kept to undo what is written. */
Tx *scratch_new(void)
{
    sqlite3 *db = NULL;

    if (sqlite3_open("", &db) != SQLITE_OK ||
        sqlite3_exec(db, "PRAGMA journal_mode = OFF; PRAGMA cache_size = -256000", NULL, NULL,
                     NULL) != SQLITE_OK)
        g_error("store: no scratch database");
    sqlite3_extended_result_codes(db, 1);
    Tx *scratch = engine_new(sqlite_driver_new(db));
    if (engine_exec(scratch, "BEGIN")) make_tables(scratch);
    return scratch;
}
