/* SPDX-License-Identifier: Apache-2.0 */
/* Events of other replicas: taken in along their chains, never changed. */
#include "adapters/store/engine.h"
#include "core/ledger/chain.h"

bool tx_digest(Tx *tx, const char *replica, int64_t seq, uint8_t *digest)
{
    sqlite3_stmt *statement =
        engine_prepare(tx, "SELECT digest FROM event WHERE replica = ?1 AND seq = ?2");
    bool found = false;

    if (statement == NULL) return false;
    sqlite3_bind_text(statement, 1, replica, -1, SQLITE_STATIC);
    sqlite3_bind_int64(statement, 2, seq);
    if (engine_step(tx, statement) && sqlite3_column_bytes(statement, 0) == DIGEST_BYTES) {
        memcpy(digest, sqlite3_column_blob(statement, 0), DIGEST_BYTES);
        found = true;
    }
    engine_give_back(statement, false);
    return found;
}

static Head *look_up(Tx *tx, const char *replica)
{
    sqlite3_stmt *statement = engine_prepare(
        tx, "SELECT seq, digest FROM event WHERE replica = ?1 ORDER BY seq DESC LIMIT 1");
    Head *head = g_new0(Head, 1);

    if (statement == NULL) return head;
    sqlite3_bind_text(statement, 1, replica, -1, SQLITE_STATIC);
    if (engine_step(tx, statement)) {
        head->seq = sqlite3_column_int64(statement, 0);
        if (sqlite3_column_bytes(statement, 1) == DIGEST_BYTES)
            memcpy(head->digest, sqlite3_column_blob(statement, 1), DIGEST_BYTES);
    }
    engine_give_back(statement, false);
    return head;
}

/* Where the chain of a replica ends here. */
static Head *head_of(Tx *tx, const char *replica)
{
    if (strcmp(replica, tx->replica) == 0) return &tx->head;
    Head *head = g_hash_table_lookup(tx->heads, replica);

    if (head == NULL) {
        head = look_up(tx, replica);
        g_hash_table_insert(tx->heads, g_strdup(replica), head);
    }
    return head;
}

/* A stamp is never changed; where it is too far ahead, this replica says how it is to be seen. */
static void take_stamp(Tx *tx, const Event *event)
{
    Event seen = engine_seen(tx, event);
    Stamp stamp = {seen.wall, seen.logical};

    if (stamp_receive(&tx->head.clock, tx->now, stamp)) return;
    tx_append(tx, "clock.bounded", event->replica, "osier", NULL,
              json_pack("{s:I, s:I, s:I}", "first", (json_int_t)event->seq, "last",
                        (json_int_t)event->seq, "wall", (json_int_t)(tx->now + STAMP_AHEAD_MS)));
}

static void put(Tx *tx, const Event *event)
{
    json_t *body =
        event->body != NULL ? json_loads(event->body, JSON_REJECT_DUPLICATES, NULL) : NULL;

    take_stamp(tx, event);
    engine_keep_event(tx, event, body);
    json_decref(body);
}

Accepted tx_accept(Tx *tx, const Event *event)
{
    Head *head = head_of(tx, event->replica);
    uint8_t digest[DIGEST_BYTES];

    if (event->seq <= head->seq) {
        bool same = tx_digest(tx, event->replica, event->seq, digest) &&
                    memcmp(digest, event->digest, DIGEST_BYTES) == 0;
        return same ? ACCEPT_KNOWN : ACCEPT_FORK;
    }
    if (event->seq != head->seq + 1 || strcmp(event->replica, tx->replica) == 0) return ACCEPT_GAP;
    if (!chain_holds(event, head->seq > 0 ? head->digest : NULL)) return ACCEPT_BROKEN;
    head->seq = event->seq;
    memcpy(head->digest, event->digest, DIGEST_BYTES);
    put(tx, event);
    return ACCEPT_NEW;
}

static int by_replica(gconstpointer a, gconstpointer b)
{
    return strcmp(((const VectorEntry *)a)->replica, ((const VectorEntry *)b)->replica);
}

/* One step of the index for each replica, not a walk over all events. */
GArray *tx_vector(Tx *tx)
{
    GArray *vector = g_array_new(FALSE, TRUE, sizeof(VectorEntry));
    g_autofree char *at = g_strdup("");
    bool more = true;

    while (more) {
        sqlite3_stmt *statement = engine_prepare(
            tx, "SELECT replica, seq, digest FROM event WHERE replica = (SELECT min(replica) FROM "
                "event WHERE replica > ?1) ORDER BY seq DESC LIMIT 1");
        VectorEntry entry = {0};

        if (statement == NULL) break;
        sqlite3_bind_text(statement, 1, at, -1, SQLITE_STATIC);
        more = engine_step(tx, statement);
        if (more) {
            g_strlcpy(entry.replica, (const char *)sqlite3_column_text(statement, 0),
                      sizeof entry.replica);
            entry.seq = sqlite3_column_int64(statement, 1);
            if (sqlite3_column_bytes(statement, 2) == DIGEST_BYTES)
                memcpy(entry.digest, sqlite3_column_blob(statement, 2), DIGEST_BYTES);
            g_array_append_val(vector, entry);
        }
        engine_give_back(statement, false);
        g_free(at);
        at = g_strdup(entry.replica);
    }
    g_array_sort(vector, by_replica);
    return vector;
}

void tx_rename(Tx *tx, const char *replica)
{
    g_free(tx->replica);
    tx->replica = g_strdup(replica);
    tx->head.seq = 0;
    memset(tx->head.digest, 0, DIGEST_BYTES);
    g_hash_table_remove_all(tx->heads);
    tx_set_meta(tx, "replica", replica);
    tx_append(tx, "replica.joined", replica, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)tx->now));
}
