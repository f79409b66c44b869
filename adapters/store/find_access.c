/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_access.h"

GPtrArray *find_accounts(Tx *tx)
{
    return tx_rows(tx, TABLE_ACCOUNT, "ORDER BY key", "");
}

int feeds_drop(Tx *tx, const char *client)
{
    g_autofree char *within = g_strdup_printf("%%\"client\":\"%s\"%%", client);

    return tx_change(tx,
                     "DELETE FROM meta WHERE key >= 'feed.' AND key < 'feed/' AND value LIKE ?1",
                     "t", within);
}

static void keep_number(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

void look_note(Tx *tx, const char *by, const char *client, bool change, const char *what)
{
    g_autoptr(Row) look = row_new(TABLE_LOOK);
    int64_t last = 0;

    tx_select(tx, "SELECT max(number) FROM look", keep_number, &last, "");
    row_set_int(look, LOOK_NUMBER, last + 1);
    row_set_int(look, LOOK_AT, tx_now(tx));
    row_set_text(look, LOOK_BY, by);
    row_set_text(look, LOOK_CLIENT, client);
    row_set_int(look, LOOK_CHANGE, change);
    row_set_text(look, LOOK_WHAT, what);
    tx_put(tx, look);
}

void look_drop(Tx *tx, int64_t before_ms)
{
    tx_change(tx, "DELETE FROM look WHERE at < ?1", "i", before_ms);
}

GPtrArray *find_looks(Tx *tx, const char *client, int64_t since_ms, int limit)
{
    return tx_rows(tx, TABLE_LOOK,
                   "(?1 IS NULL OR client = ?1) AND at >= ?2 ORDER BY number DESC LIMIT ?3", "tii",
                   client, since_ms, (int64_t)limit);
}
