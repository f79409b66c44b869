/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_standing.h"

#include <string.h>

#include "adapters/store/find_work.h"

/* Two columns: how many, and the oldest. */
typedef struct {
    int64_t count;
    int64_t oldest_ms;
} Pile;

static void keep_pile(const TxResult *result, void *context)
{
    Pile *pile = context;

    pile->count = result->integer[0];
    pile->oldest_ms = result->text[1] != NULL ? result->integer[1] : INT64_MAX;
}

static Pile pile_of(Tx *tx, const char *sql)
{
    Pile pile = {.oldest_ms = INT64_MAX};

    tx_select(tx, sql, keep_pile, &pile, "");
    return pile;
}

static void keep_alerts(const TxResult *result, void *context)
{
    static const char *const CLASSES[] = {"now", "today", "digest"};
    Standing *standing = context;

    for (size_t i = 0; i < G_N_ELEMENTS(CLASSES); i++)
        if (g_strcmp0(result->text[0], CLASSES[i]) == 0) standing->alerts[i] += result->integer[2];
    if (g_strcmp0(result->text[0], "now") == 0 && g_strcmp0(result->text[1], "open") == 0)
        standing->untaken_now += result->integer[2];
}

static int64_t count_events(Tx *tx)
{
    g_autoptr(GArray) vector = tx_vector(tx);
    int64_t events = 0;

    for (guint i = 0; i < vector->len; i++)
        events += g_array_index(vector, VectorEntry, i).seq;
    return events;
}

void find_standing(Tx *tx, Standing *standing)
{
    Pile unread = pile_of(tx, "SELECT count(*), min(arrived) FROM reply WHERE state = 'unread'");
    Pile waiting =
        pile_of(tx, "SELECT count(*), min(at) FROM outbox WHERE state IN ('waiting', 'writing')");

    memset(standing, 0, sizeof *standing);
    tx_select(tx,
              "SELECT class, state, count(*) FROM alert WHERE opened = 1 AND state <> 'closed' "
              "GROUP BY class, state",
              keep_alerts, standing, "");
    standing->events = count_events(tx);
    standing->clients =
        pile_of(tx, "SELECT count(*), NULL FROM setting WHERE field = 'name'").count;
    standing->unread = unread.count;
    standing->oldest_unread_ms = unread.oldest_ms;
    standing->glance =
        pile_of(tx, "SELECT count(*), NULL FROM reply WHERE glance = 1 AND state <> 'unread'")
            .count;
    standing->waiting = waiting.count;
    standing->oldest_waiting_ms = waiting.oldest_ms;
    standing->due_ms = find_next_due(tx);
}
