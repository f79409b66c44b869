/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_day.h"

static void day_session_free(void *gone)
{
    DaySession *session = gone;

    g_free(session->client);
    g_free(session->name);
    g_free(session->session);
    g_free(session->local);
    g_free(session->zone);
    g_free(session->state);
    g_free(session);
}

static void add_session(const TxResult *result, void *context)
{
    DaySession *session = g_new0(DaySession, 1);

    *session = (DaySession){.client = g_strdup(result->text[0]),
                            .name = g_strdup(result->text[1]),
                            .session = g_strdup(result->text[2]),
                            .local = g_strdup(result->text[3]),
                            .zone = g_strdup(result->text[4]),
                            .state = g_strdup(result->text[5]),
                            .utc_ms = result->integer[6],
                            .reported = result->integer[7] != 0};
    g_ptr_array_add(context, session);
}

GPtrArray *find_day_sessions(Tx *tx, int64_t from_ms, int64_t to_ms, int limit)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(day_session_free);

    tx_select(tx,
              "SELECT s.client, n.value, s.id, s.local, s.zone, s.state, s.utc, "
              "CASE WHEN EXISTS (SELECT 1 FROM report r WHERE r.session = s.id) THEN 1 ELSE 0 END "
              "FROM session s LEFT JOIN setting n ON n.subject = s.client AND n.field = 'name' "
              "WHERE s.utc >= ?1 AND s.utc < ?2 "
              "ORDER BY CASE s.state WHEN 'not' THEN 0 WHEN 'partly' THEN 0 WHEN 'asked' THEN 1 "
              "ELSE 2 END, s.utc, s.id LIMIT ?3",
              add_session, list, "iii", from_ms, to_ms, (int64_t)limit);
    return list;
}

GPtrArray *find_day_coming(Tx *tx, int64_t before_ms, int limit)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(day_session_free);

    tx_select(tx,
              "SELECT d.client, n.value, NULL, NULL, NULL, 'planned', d.at, 0 FROM due d "
              "LEFT JOIN setting n ON n.subject = d.client AND n.field = 'name' "
              "WHERE d.kind = 'session' AND d.at < ?1 ORDER BY d.at, d.client, d.key LIMIT ?2",
              add_session, list, "ii", before_ms, (int64_t)limit);
    return list;
}

static void keep_count(const TxResult *result, void *context)
{
    *(int *)context = (int)result->integer[0];
}

int find_day_coming_count(Tx *tx, int64_t before_ms)
{
    int count = 0;

    tx_select(tx, "SELECT count(*) FROM due WHERE kind = 'session' AND at < ?1", keep_count, &count,
              "i", before_ms);
    return count;
}

typedef struct {
    DayCount *each;
    void *context;
} Counting;

static void lend_count(const TxResult *result, void *context)
{
    const Counting *counting = context;

    if (result->text[0] != NULL)
        counting->each(result->text[0], (int)result->integer[1], counting->context);
}

void find_day_counts(Tx *tx, int64_t from_ms, int64_t to_ms, DayCount *each, void *context)
{
    Counting counting = {each, context};

    tx_select(tx, "SELECT state, count(*) FROM session WHERE utc >= ?1 AND utc < ?2 GROUP BY state",
              lend_count, &counting, "ii", from_ms, to_ms);
}

static void name_free(void *pair)
{
    char **texts = pair;

    g_free(texts[0]);
    g_free(texts[1]);
    g_free(texts);
}

static void add_name(const TxResult *result, void *context)
{
    char **pair = g_new0(char *, 2);

    pair[0] = g_strdup(result->text[0]);
    pair[1] = g_strdup(result->text[1]);
    g_ptr_array_add(context, pair);
}

GPtrArray *find_names(Tx *tx)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(name_free);

    tx_select(tx, "SELECT subject, value FROM setting WHERE field = 'name'", add_name, list, "");
    return list;
}
