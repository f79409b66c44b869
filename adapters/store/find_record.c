/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_record.h"

GPtrArray *find_sessions(Tx *tx, const char *client, const char *from, const char *to)
{
    return tx_rows(tx, TABLE_SESSION,
                   "client = ?1 AND date >= ?2 AND date <= ?3 ORDER BY date, slot", "ttt", client,
                   from, to);
}

/* Dates are asked in their order; within one a plan may have changed its times. Of the few of one day the latest is found here,
 * for the database would make a table to sort them. */
Row *find_asked(Tx *tx, const char *client, int64_t before_ms)
{
    g_autoptr(GPtrArray) day =
        tx_rows(tx, TABLE_SESSION,
                "client = ?1 AND asked_at <= ?2 AND date = (SELECT max(date) FROM session WHERE "
                "client = ?1 AND asked_at <= ?2) ORDER BY slot",
                "ti", client, before_ms);
    guint latest = 0;

    for (guint i = 1; i < day->len; i++)
        if (row_int(day->pdata[i], SESSION_ASKED_AT) >=
            row_int(day->pdata[latest], SESSION_ASKED_AT))
            latest = i;
    return day->len > 0 ? g_ptr_array_steal_index(day, latest) : NULL;
}

GPtrArray *find_last_sessions(Tx *tx, const char *client, int limit)
{
    return tx_rows(tx, TABLE_SESSION, "client = ?1 ORDER BY date DESC, slot DESC LIMIT ?2", "ti",
                   client, (int64_t)limit);
}

GPtrArray *find_last_outcomes(Tx *tx, const char *client, int limit)
{
    return tx_rows(tx, TABLE_SESSION,
                   "client = ?1 AND state IN ('done', 'partly', 'not', 'silent') ORDER BY date "
                   "DESC, slot DESC LIMIT ?2",
                   "ti", client, (int64_t)limit);
}

GPtrArray *find_reports(Tx *tx, const char *client, int64_t from_ms, int64_t to_ms)
{
    return tx_rows(tx, TABLE_REPORT, "client = ?1 AND at >= ?2 AND at < ?3 ORDER BY at, id", "tii",
                   client, from_ms, to_ms);
}

/* Each case has a condition of its own, so that each has its index. */
GPtrArray *find_replies(Tx *tx, const char *client, const char *state, int64_t since_ms)
{
    if (state != NULL && client == NULL)
        return tx_rows(tx, TABLE_REPLY, "state = ?1 AND arrived >= ?2 ORDER BY arrived, id", "ti",
                       state, since_ms);
    if (state != NULL)
        return tx_rows(tx, TABLE_REPLY,
                       "client = ?1 AND +state = ?2 AND arrived >= ?3 ORDER BY arrived, id", "tti",
                       client, state, since_ms);
    if (client != NULL)
        return tx_rows(tx, TABLE_REPLY, "client = ?1 AND arrived >= ?2 ORDER BY arrived, id", "ti",
                       client, since_ms);
    return tx_rows(tx, TABLE_REPLY, "arrived >= ?1 ORDER BY arrived, id", "i", since_ms);
}

/* The value of a column in the first of those rows, 0 where there is none. */
static int64_t first_of(Tx *tx, TableId table, const char *where, const char *client, int column)
{
    g_autoptr(GPtrArray) rows = tx_rows(tx, table, where, "t", client);

    return rows->len > 0 ? row_int(rows->pdata[0], column) : 0;
}

int64_t find_last_word(Tx *tx, const char *client)
{
    int64_t reply_ms = first_of(tx, TABLE_REPLY, "client = ?1 ORDER BY arrived DESC LIMIT 1",
                                client, REPLY_ARRIVED);
    int64_t report_ms =
        first_of(tx, TABLE_REPORT, "client = ?1 ORDER BY at DESC LIMIT 1", client, REPORT_AT);
    int64_t consent_ms =
        first_of(tx, TABLE_CONTACT,
                 "client = ?1 AND consent_at IS NOT NULL ORDER BY consent_at DESC LIMIT 1", client,
                 CONTACT_CONSENT_AT);

    return MAX(MAX(reply_ms, report_ms), consent_ms);
}

/* Those of one instant differ by the order of their rows alone: an id is a hash. */
GPtrArray *find_received(Tx *tx, int limit)
{
    return tx_rows(tx, TABLE_REPLY, "state = 'received' ORDER BY arrived, rowid LIMIT ?1", "i",
                   (int64_t)limit);
}

GPtrArray *find_glance(Tx *tx)
{
    return tx_rows(tx, TABLE_REPLY, "glance = 1 AND state <> 'unread' ORDER BY arrived, id", "");
}

static void keep_number(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

int find_fingerprint(Tx *tx, const char *fingerprint)
{
    int64_t count = 0;

    tx_select(tx, "SELECT count(*) FROM reply WHERE fingerprint = ?1", keep_number, &count, "t",
              fingerprint);
    return (int)count;
}

int64_t find_first_heard(Tx *tx, const char *reply)
{
    int64_t wall_ms = 0;

    tx_select(tx,
              "SELECT COALESCE(min(wall), 0) FROM event WHERE subject = ?1 AND kind = "
              "'reply.received'",
              keep_number, &wall_ms, "t", reply);
    return wall_ms;
}

#define BY_CLASS "CASE class WHEN 'now' THEN 0 WHEN 'today' THEN 1 ELSE 2 END, at, id"

GPtrArray *find_alerts(Tx *tx, const char *client, bool all)
{
    return tx_rows(tx, TABLE_ALERT,
                   "opened = 1 AND (?1 IS NULL OR client = ?1) AND (?2 = 1 OR state <> 'closed') "
                   "ORDER BY " BY_CLASS,
                   "ti", client, (int64_t)all);
}

Row *find_open_alert(Tx *tx, const char *client, const char *kind)
{
    g_autoptr(GPtrArray) rows =
        tx_rows(tx, TABLE_ALERT,
                "opened = 1 AND client = ?1 AND kind = ?2 AND state <> 'closed' ORDER BY " BY_CLASS
                " LIMIT 1",
                "tt", client, kind);

    return rows->len == 0 ? NULL : row_copy(rows->pdata[0]);
}

GPtrArray *find_alerts_between(Tx *tx, int64_t from_ms, int64_t to_ms)
{
    return tx_rows(tx, TABLE_ALERT, "opened = 1 AND at >= ?1 AND at < ?2 ORDER BY at, id", "ii",
                   from_ms, to_ms);
}

GPtrArray *find_messages(Tx *tx, const char *client, int64_t since_ms)
{
    if (client != NULL)
        return tx_rows(tx, TABLE_MESSAGE, "client = ?1 AND at >= ?2 ORDER BY at, id", "ti", client,
                       since_ms);
    return tx_rows(tx, TABLE_MESSAGE, "at >= ?1 ORDER BY at, id", "i", since_ms);
}

Row *find_message_by_gateway_id(Tx *tx, const char *gateway, const char *gateway_id)
{
    g_autoptr(GPtrArray) rows = tx_rows(
        tx, TABLE_MESSAGE, "gateway_id = ?1 AND gateway = ?2 LIMIT 1", "tt", gateway_id, gateway);

    return rows->len == 0 ? NULL : row_copy(rows->pdata[0]);
}

int find_untold(Tx *tx, const char *gateway, int64_t since_ms, int64_t before_ms)
{
    int64_t count = 0;

    tx_select(tx,
              "SELECT count(*) FROM message WHERE at >= ?1 AND fate_at < ?2 AND gateway = ?3 AND"
              " fate = 'accepted'",
              keep_number, &count, "iit", since_ms, before_ms, gateway);
    return (int)count;
}

typedef struct {
    int64_t segments;
    double price;
} Cost;

static void keep_cost(const TxResult *result, void *context)
{
    Cost *cost = context;

    cost->segments = result->integer[0];
    cost->price = result->real[1];
}

void find_cost(Tx *tx, int64_t from_ms, int64_t to_ms, int64_t *segments, double *price)
{
    Cost cost = {0};

    tx_select(tx,
              "SELECT coalesce(sum(segments), 0), coalesce(sum(price), 0.0) FROM message WHERE at "
              ">= ?1 AND at < ?2 AND"
              " fate IN ('accepted', 'delivered', 'failed', 'unsure')",
              keep_cost, &cost, "ii", from_ms, to_ms);
    *segments = cost.segments;
    *price = cost.price;
}

GPtrArray *find_away(Tx *tx, int64_t from_ms, int64_t to_ms)
{
    return tx_rows(tx, TABLE_AWAY, "from_ms < ?2 AND to_ms > ?1 ORDER BY from_ms, id", "ii",
                   from_ms, to_ms);
}
