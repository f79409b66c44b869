/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_work.h"

#include "core/calendar/date.h"
#include "core/clinic/gate.h"

GPtrArray *find_due(Tx *tx, int64_t now_ms, int limit)
{
    return tx_rows(tx, TABLE_DUE, "at <= ?1 ORDER BY at, kind, key LIMIT ?2", "ii", now_ms,
                   (int64_t)limit);
}

static void keep_integer(const TxResult *result, void *context)
{
    if (result->text[0] != NULL) *(int64_t *)context = result->integer[0];
}

int64_t find_next_due(Tx *tx)
{
    int64_t at = INT64_MAX;

    tx_select(tx, "SELECT min(at) FROM due", keep_integer, &at, "");
    return at;
}

int64_t find_next_send(Tx *tx, const char *channel)
{
    int64_t at = INT64_MAX;

    /* The first of each rank, and of these the first. */
    tx_select(tx,
              "SELECT min(a) FROM ("
              "SELECT min(next_at) AS a FROM outbox WHERE state = 'waiting' AND channel = ?1 AND "
              "rank = 0 UNION ALL "
              "SELECT min(next_at) FROM outbox WHERE state = 'waiting' AND channel = ?1 AND "
              "rank = 1 UNION ALL "
              "SELECT min(next_at) FROM outbox WHERE state = 'waiting' AND channel = ?1 AND "
              "rank = 2 UNION ALL "
              "SELECT min(next_at) FROM outbox WHERE state = 'waiting' AND channel = ?1 AND "
              "rank = 3) AS ranks",
              keep_integer, &at, "t", channel);
    return at;
}

bool find_urgent(Tx *tx)
{
    int64_t at = INT64_MAX;

    tx_select(tx, "SELECT min(next_at) FROM outbox WHERE state = 'waiting' AND rank = 0",
              keep_integer, &at, "");
    return at != INT64_MAX;
}

void due_set(Tx *tx, const char *kind, const char *key, int64_t at_ms, const char *client,
             const char *body)
{
    g_autoptr(Row) row = row_new(TABLE_DUE);

    row_set_text(row, DUE_KIND, kind);
    row_set_text(row, DUE_KEY, key);
    row_set_int(row, DUE_AT, at_ms);
    row_set_text(row, DUE_CLIENT, client);
    row_set_text(row, DUE_BODY, body);
    tx_put(tx, row);
}

static Row *due_key(const char *kind, const char *key)
{
    Row *row = row_new(TABLE_DUE);

    row_set_text(row, DUE_KIND, kind);
    row_set_text(row, DUE_KEY, key);
    return row;
}

Row *due_get(Tx *tx, const char *kind, const char *key)
{
    g_autoptr(Row) row = due_key(kind, key);

    return tx_get(tx, row);
}

bool due_is_set(Tx *tx, const char *kind, const char *key)
{
    g_autoptr(Row) row = due_get(tx, kind, key);

    return row != NULL;
}

void due_drop(Tx *tx, const char *kind, const char *key)
{
    g_autoptr(Row) row = due_key(kind, key);

    tx_delete(tx, row);
}

/* Rank by rank, so that what waits for another try is not walked over. */
GPtrArray *find_ready(Tx *tx, const char *channel, int64_t now_ms, int limit)
{
    GPtrArray *ready = g_ptr_array_new_with_free_func((GDestroyNotify)row_free);

    for (int64_t rank = 0; rank <= OUTBOX_RANK_LAST && (int)ready->len < limit; rank++) {
        GPtrArray *rows = tx_rows(tx, TABLE_OUTBOX,
                                  "state = 'waiting' AND channel = ?1 AND rank = ?2 AND next_at <= "
                                  "?3 ORDER BY next_at, rowid LIMIT ?4",
                                  "tiii", channel, rank, now_ms, (int64_t)limit - ready->len);
        g_ptr_array_extend_and_steal(ready, rows);
    }
    return ready;
}

GPtrArray *find_outbox(Tx *tx, const char *state)
{
    return tx_rows(tx, TABLE_OUTBOX, "state = ?1 ORDER BY at, id", "t", state);
}

GPtrArray *find_calls_waiting(Tx *tx, const char *alert, const char *to)
{
    return tx_rows(tx, TABLE_OUTBOX,
                   "alert = ?1 AND to_address = ?2 AND kind = 'alert' ORDER BY at, id", "tt", alert,
                   to);
}

static void count_started(const TxResult *result, void *context)
{
    MessageKind kind;

    if (result->text[0] != NULL && message_kind_from_name(result->text[0], &kind) &&
        message_is_started(kind))
        ++*(int *)context;
}

/* What waits counts for the day on which it may go, what went for the day on which it did: a message may be made in one
 * day and sent in the next. None waits longer than three days. */
int find_started(Tx *tx, const char *client, int64_t from_ms, int64_t to_ms)
{
    int started = 0;

    tx_select(tx,
              "SELECT kind FROM outbox WHERE client = ?1 AND next_at < ?3 UNION ALL "
              "SELECT kind FROM message WHERE client = ?1 AND at >= ?4 AND fate_at >= ?2 AND "
              "fate_at < ?3 AND fate <> 'lapsed'",
              count_started, &started, "tiii", client, from_ms, to_ms, from_ms - 3 * DAY_MS);
    return started;
}

typedef struct {
    StartedEach *each;
    void *context;
} Starting;

static void lend_started(const TxResult *result, void *context)
{
    const Starting *starting = context;
    MessageKind kind;

    if (result->text[0] != NULL && result->text[1] != NULL &&
        message_kind_from_name(result->text[1], &kind) && message_is_started(kind))
        starting->each(result->text[0], starting->context);
}

void find_started_among(Tx *tx, const GPtrArray *clients, int64_t from_ms, int64_t to_ms,
                        StartedEach *each, void *context)
{
    Starting starting = {each, context};

    tx_select_among(tx,
                    "SELECT client, kind FROM outbox WHERE client AMONG AND next_at < ?3 UNION ALL "
                    "SELECT client, kind FROM message WHERE client AMONG AND at >= ?4 AND fate_at "
                    ">= ?2 AND fate_at < ?3 AND fate <> 'lapsed'",
                    clients, lend_started, &starting, "iii", from_ms, to_ms, from_ms - 3 * DAY_MS);
}

int find_unsent_texts(Tx *tx, const char *alert)
{
    int64_t count = 0;

    tx_select(tx,
              "SELECT count(*) FROM outbox WHERE alert = ?1 AND kind = 'alert' AND channel = 'sms'",
              keep_integer, &count, "t", alert);
    return (int)count;
}

GPtrArray *find_codes(Tx *tx, const char *number, const char *code)
{
    return tx_rows(tx, TABLE_CODE, "number = ?1 AND code = ?2 AND used_at IS NULL ORDER BY alert",
                   "tt", number, code);
}

GPtrArray *find_outbox_of(Tx *tx, const char *client, int64_t since_ms)
{
    return tx_rows(tx, TABLE_OUTBOX, "(?1 IS NULL OR client = ?1) AND at >= ?2 ORDER BY at, id",
                   "ti", client, since_ms);
}

GPtrArray *find_due_kind(Tx *tx, const char *kind)
{
    return tx_rows(tx, TABLE_DUE, "kind = ?1 ORDER BY at, key", "t", kind);
}

int find_wrong_codes(Tx *tx, const char *number, int64_t since_ms)
{
    int64_t tries = 0;

    tx_select(tx, "SELECT count(*) FROM wrong_code WHERE number = ?1 AND at >= ?2", keep_integer,
              &tries, "ti", number, since_ms);
    return (int)MIN(tries, INT32_MAX);
}

void wrong_code_add(Tx *tx, const char *reply, const char *number, int64_t at_ms, int tries)
{
    tx_change(tx, "DELETE FROM wrong_code WHERE at < ?1", "i", at_ms - DAY_MS);
    for (int i = 0; i < tries; i++) {
        g_autoptr(Row) row = row_new(TABLE_WRONG_CODE);
        g_autofree char *key = g_strdup_printf("%s/%d", reply, i);
        row_set_text(row, WRONG_CODE_REPLY, key);
        row_set_text(row, WRONG_CODE_NUMBER, number);
        row_set_int(row, WRONG_CODE_AT, at_ms);
        tx_put(tx, row);
    }
}

#define RECEIPTS_MOST 10000

void receipt_keep(Tx *tx, const char *gateway, const char *gateway_id, const char *fate,
                  int64_t at_ms)
{
    g_autoptr(Row) row = row_new(TABLE_RECEIPT);
    int64_t count = 0;

    tx_change(tx, "DELETE FROM receipt WHERE at < ?1", "i", at_ms - 2 * DAY_MS);
    tx_select(tx, "SELECT count(*) FROM receipt", keep_integer, &count, "");
    if (count >= RECEIPTS_MOST)
        tx_change(tx, "DELETE FROM receipt WHERE at <= (SELECT min(at) FROM receipt)", "");
    row_set_text(row, RECEIPT_GATEWAY, gateway);
    row_set_text(row, RECEIPT_GATEWAY_ID, gateway_id);
    row_set_text(row, RECEIPT_FATE, fate);
    row_set_int(row, RECEIPT_AT, at_ms);
    tx_put(tx, row);
}

Row *receipt_take(Tx *tx, const char *gateway, const char *gateway_id)
{
    g_autoptr(Row) key = row_new(TABLE_RECEIPT);

    row_set_text(key, RECEIPT_GATEWAY, gateway);
    row_set_text(key, RECEIPT_GATEWAY_ID, gateway_id);
    Row *row = tx_get(tx, key);
    if (row != NULL) tx_delete(tx, row);
    return row;
}
