/* SPDX-License-Identifier: Apache-2.0 */
/* What a job will ask for one by one, asked for together. Only where the store is far: near by, a question costs no more alone. */
#include "adapters/store/engine.h"
#include "adapters/store/gather.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

/* Between texts of a list; none that holds it is in one. */
#define APART '\x1f'

bool tx_is_far(const Tx *tx)
{
    return tx->driver->dialect->far;
}

bool tx_can_be_among(const char *text)
{
    return text != NULL && *text != '\0' && strchr(text, APART) == NULL &&
           g_utf8_validate(text, -1, NULL);
}

static bool add_text(GString *list, const char *text)
{
    if (!tx_can_be_among(text)) return false;
    if (list->len > 0) g_string_append_c(list, APART);
    g_string_append(list, text);
    return true;
}

static Row *key_of(TableId table, const char *first, const char *text)
{
    Row *key = row_new(table);

    if (first != NULL) row_set_text(key, 0, first);
    row_set_text(key, first != NULL ? 1 : 0, text);
    return key;
}

/* Those of which nothing is known yet. Until they are found they count as not there. */
static void note_unknown(Tx *tx, TableId table, const char *first, const GPtrArray *keys,
                         GString *list)
{
    const Row *known;

    for (guint i = 0; i < keys->len; i++) {
        if (keys->pdata[i] == NULL) continue;
        g_autoptr(Row) key = key_of(table, first, keys->pdata[i]);
        if (!rows_find(tx->rows, key, &known) && add_text(list, keys->pdata[i]))
            rows_note(tx->rows, key, NULL);
    }
}

static Statement *fetching(Tx *tx, TableId table, bool second)
{
    const Table *of = table_of(table);
    const char *among = tx->driver->dialect->among;
    g_autofree char *select = sql_select(table);
    g_autofree char *sql =
        second ? g_strdup_printf("%s WHERE \"%s\" %s AND \"%s\" = ?2", select, of->column[1].name,
                                 among, of->column[0].name)
               : g_strdup_printf("%s WHERE \"%s\" %s", select, of->column[0].name, among);

    return engine_prepare(tx, sql);
}

void tx_fetch(Tx *tx, TableId table, const char *first, const GPtrArray *keys)
{
    if (tx->rows == NULL || tx->bad != STORE_OK) return;
    g_assert(table_of(table)->keys == (first != NULL ? 2 : 1));
    g_autoptr(GString) list = g_string_new(NULL);
    note_unknown(tx, table, first, keys, list);
    Statement *statement = list->len > 0 ? fetching(tx, table, first != NULL) : NULL;
    if (statement == NULL) return;
    statement_bind_text(statement, 1, list->str);
    if (first != NULL) statement_bind_text(statement, 2, first);
    while (engine_step(tx, statement)) {
        g_autoptr(Row) row = engine_read_row(statement, table);
        rows_note(tx->rows, row, row);
    }
    engine_give_back(statement, false);
}

static char *join(const GPtrArray *texts)
{
    GString *list = g_string_new(NULL);

    for (guint i = 0; i < texts->len; i++)
        add_text(list, texts->pdata[i]);
    return g_string_free(list, FALSE);
}

void tx_select_among(Tx *tx, const char *sql, const GPtrArray *among, TxEach *each, void *context,
                     const char *types, ...)
{
    g_assert(tx_is_far(tx));
    g_auto(GStrv) parts = g_strsplit(sql, "AMONG", -1);
    g_autofree char *whole = g_strjoinv(tx->driver->dialect->among, parts);
    g_autofree char *list = join(among);
    Statement *statement = engine_prepare(tx, whole);
    va_list arguments;

    gather_flush(tx);
    if (statement == NULL) return;
    statement_bind_text(statement, 1, list);
    va_start(arguments, types);
    engine_bind_arguments(statement, 2, types, arguments);
    va_end(arguments);
    while (engine_step(tx, statement))
        engine_lend_result(statement, each, context);
    engine_give_back(statement, false);
}
