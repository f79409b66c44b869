/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_export.h"

static void keep_text(const TxResult *result, void *context)
{
    *(char **)context = g_strdup(result->text[0]);
}

char *find_first_replica(Tx *tx)
{
    char *replica = NULL;

    tx_select(tx, "SELECT replica FROM event ORDER BY wall, logical, replica, seq LIMIT 1",
              keep_text, &replica, "");
    return replica;
}

typedef struct {
    char **id, **author;
    int64_t *wall;
    bool found;
} Last;

static void keep_last(const TxResult *result, void *context)
{
    Last *last = context;

    *last->id = g_strdup(result->text[0]);
    *last->author = g_strdup(result->text[1]);
    *last->wall = result->integer[2];
    last->found = true;
}

bool find_last_event(Tx *tx, const char *subject, char **id, char **author, int64_t *wall)
{
    Last last = {.id = id, .author = author, .wall = wall};

    tx_select(tx,
              "SELECT replica || ':' || seq, author, wall FROM event WHERE subject = ?1 ORDER BY "
              "wall DESC, logical DESC, replica DESC, seq DESC LIMIT 1",
              keep_last, &last, "t", subject);
    return last.found;
}

GPtrArray *find_all_of_nobody(Tx *tx, TableId table)
{
    return tx_rows(tx, table, "(client IS NULL OR client = 'clinic') ORDER BY at, id", "");
}

typedef struct {
    SessionMonth *each;
    void *context;
} Months;

static void lend_month(const TxResult *result, void *context)
{
    Months *months = context;

    if (result->text[0] != NULL && result->text[1] != NULL)
        months->each(result->text[0], result->text[1], (int)result->integer[2], months->context);
}

void find_session_months(Tx *tx, const char *client, SessionMonth *each, void *context)
{
    Months months = {.each = each, .context = context};

    tx_select(tx,
              "SELECT substr(date, 1, 7) AS month, state, count(*) FROM session WHERE client = ?1 "
              "GROUP BY month, state ORDER BY month, state",
              lend_month, &months, "t", client);
}

GPtrArray *find_all_of(Tx *tx, TableId table, const char *client)
{
    return tx_rows(tx, table, "client = ?1 ORDER BY at, id", "t", client);
}
