/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_practice.h"

#include <string.h>

GPtrArray *find_measures(Tx *tx, const char *client, const char *movement)
{
    return tx_rows(tx, TABLE_MEASURE,
                   "client = ?1 AND (?2 IS NULL OR movement = ?2) ORDER BY at, id", "tt", client,
                   movement);
}

GPtrArray *find_pauses(Tx *tx, const char *client, int64_t since_ms)
{
    return tx_rows(tx, TABLE_BAR,
                   "client = ?1 AND kind = 'pause' AND at >= ?2 ORDER BY at DESC, id", "ti", client,
                   since_ms);
}

GPtrArray *find_absences(Tx *tx, const char *client, int64_t since_ms)
{
    return tx_rows(tx, TABLE_BAR,
                   "client = ?1 AND kind IN ('pause', 'hold', 'suspend') AND (lifted_at IS NULL OR "
                   "lifted_at > ?2) ORDER "
                   "BY at DESC, id",
                   "ti", client, since_ms);
}

int64_t find_setting_since(Tx *tx, const char *subject, const char *field)
{
    g_autoptr(Row) key = row_new(TABLE_SETTING);

    row_set_text(key, SETTING_SUBJECT, subject);
    row_set_text(key, SETTING_FIELD, field);
    g_autoptr(Row) now = tx_get(tx, key);
    if (now == NULL || row_is_null(now, SETTING_VALUE)) return INT64_MIN;
    g_autoptr(GPtrArray) before =
        tx_rows(tx, TABLE_SETTING_LOST,
                "subject = ?1 AND field = ?2 ORDER BY wall DESC, logical DESC, replica DESC", "tt",
                subject, field);
    int64_t since = row_int(now, SETTING_WALL);
    for (guint i = 0; i < before->len; i++) {
        const Row *row = before->pdata[i];
        if (g_strcmp0(row_text(row, SETTING_LOST_VALUE), row_text(now, SETTING_VALUE)) != 0) break;
        since = MIN(since, row_int(row, SETTING_LOST_WALL));
    }
    return since;
}
