/* SPDX-License-Identifier: Apache-2.0 */
/* A route as a condition on the outbox. What is written into the SQL comes from the settings and was checked there:
 * gateways' names (a-z, 0-9, dash) and digits. */
#include "adapters/store/find_route.h"

#include <string.h>

static void add_turn(GString *sql, const RouteCase *one, bool spares_calls)
{
    if (one->turn < 0) {
        g_string_append(sql, "1 = 0");
        return;
    }
    g_string_append(sql, spares_calls && one->turns > 1 ? "rank > 0" : "1 = 1");
    if (one->turns > 1)
        g_string_append_printf(
            sql, " AND (CASE WHEN rank = 0 THEN attempts ELSE attempts / 2 END) %% %d = %d",
            one->turns, one->turn);
}

static char *condition(const Route *route)
{
    GString *sql = g_string_new("(");

    if (route->gateway != NULL)
        g_string_append_printf(sql, "coalesce(bound, '') = '%s'%s OR ", route->gateway,
                               route->spares_calls ? " AND rank > 0" : "");
    g_string_append(sql, "(bound IS NULL OR (rank = 0");
    for (guint i = 0; i < route->up->len; i++)
        if (!route->spares_calls || strcmp(route->up->pdata[i], route->gateway) != 0)
            g_string_append_printf(sql, " AND bound <> '%s'", (char *)route->up->pdata[i]);
    g_string_append(sql, ")) AND CASE");
    for (guint i = 0; i + 1 < route->cases->len; i++) {
        const RouteCase *one = &g_array_index(route->cases, RouteCase, i);
        g_string_append_printf(sql, " WHEN to_address LIKE '%s%%' THEN ", one->prefix);
        add_turn(sql, one, route->spares_calls);
    }
    /* A CASE of nothing but ELSE is none. */
    g_string_append(sql, " WHEN 1 = 1 THEN ");
    add_turn(sql, &g_array_index(route->cases, RouteCase, route->cases->len - 1),
             route->spares_calls);
    g_string_append(sql, " END)");
    return g_string_free(sql, FALSE);
}

GPtrArray *find_routed(Tx *tx, const char *channel, const Route *route, int64_t now_ms, int limit)
{
    g_autofree char *mine = condition(route);
    g_autofree char *where =
        g_strconcat("state = 'waiting' AND next_at <= ?1 AND channel = ?2 AND ", mine,
                    " ORDER BY rank, at, rowid LIMIT ?3", NULL);

    return tx_rows(tx, TABLE_OUTBOX, where, "iti", now_ms, channel, (int64_t)limit);
}

static void keep_integer(const TxResult *result, void *context)
{
    if (result->text[0] != NULL) *(int64_t *)context = result->integer[0];
}

int64_t find_next_routed(Tx *tx, const char *channel, const Route *route)
{
    g_autofree char *mine = condition(route);
    g_autofree char *select =
        g_strconcat("SELECT min(next_at) FROM outbox WHERE state = 'waiting' AND channel = ?1 AND ",
                    mine, NULL);
    int64_t at = INT64_MAX;

    tx_select(tx, select, keep_integer, &at, "t", channel);
    return at;
}

static void keep_text(const TxResult *result, void *context)
{
    if (result->text[0] != NULL) g_ptr_array_add(context, g_strdup(result->text[0]));
}

#define TO_CLIENTS                                                                                 \
    "state = 'waiting' AND next_at <= ?1 AND channel = ?2 AND kind <> 'alert' AND client "

GPtrArray *find_clients_routed(Tx *tx, const char *channel, const Route *route, int64_t now_ms,
                               const char *after, int limit)
{
    g_autofree char *mine = condition(route);
    g_autofree char *select =
        g_strconcat("SELECT DISTINCT client FROM outbox WHERE " TO_CLIENTS "> ?3 AND ", mine,
                    " ORDER BY client LIMIT ?4", NULL);
    GPtrArray *clients = g_ptr_array_new_with_free_func(g_free);

    tx_select(tx, select, keep_text, clients, "itti", now_ms, channel, after, (int64_t)limit);
    return clients;
}

GPtrArray *find_routed_of(Tx *tx, const char *channel, const Route *route, int64_t now_ms,
                          const char *client)
{
    g_autofree char *mine = condition(route);
    g_autofree char *where =
        g_strconcat(TO_CLIENTS "= ?3 AND ", mine, " ORDER BY rank, at, rowid", NULL);

    return tx_rows(tx, TABLE_OUTBOX, where, "itt", now_ms, channel, client);
}

GPtrArray *find_bound(Tx *tx)
{
    return tx_rows(tx, TABLE_OUTBOX, "bound IS NOT NULL AND state = 'waiting' ORDER BY at, id", "");
}

int outbox_hurry(Tx *tx, int64_t now_ms, int64_t within_ms)
{
    return tx_change(tx,
                     "UPDATE outbox SET next_at = ?1 WHERE state = 'waiting' AND wrote_at IS NOT "
                     "NULL AND next_at > ?1 AND next_at <= ?2",
                     "ii", now_ms, now_ms + within_ms);
}
