/* SPDX-License-Identifier: Apache-2.0 */
/* Events of other replicas: taken in along their chains, never changed. */
#include "adapters/store/engine.h"
#include "core/ledger/body.h"
#include "core/ledger/chain.h"

bool tx_digest(Tx *tx, const char *replica, int64_t seq, uint8_t *digest)
{
    Statement *statement =
        engine_prepare(tx, "SELECT digest FROM event WHERE replica = ?1 AND seq = ?2");
    bool found = false;

    if (statement == NULL) return false;
    statement_bind_text(statement, 1, replica);
    statement_bind_int(statement, 2, seq);
    if (engine_step(tx, statement))
        found = statement_copy_bytes(statement, 0, digest, DIGEST_BYTES);
    engine_give_back(statement, false);
    return found;
}

static Head *look_up(Tx *tx, const char *replica)
{
    Statement *statement = engine_prepare(
        tx, "SELECT seq, digest FROM event WHERE replica = ?1 ORDER BY seq DESC LIMIT 1");
    Head *head = g_new0(Head, 1);

    if (statement == NULL) return head;
    statement_bind_text(statement, 1, replica);
    if (engine_step(tx, statement)) {
        head->seq = statement_int(statement, 0);
        statement_copy_bytes(statement, 1, head->digest, DIGEST_BYTES);
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
    Event seen = tx_seen(tx, event);
    Stamp stamp = {seen.wall, seen.logical};

    if (stamp_receive(&tx->head.clock, tx->now, stamp)) return;
    tx_append(tx, "clock.bounded", event->replica, "osier", NULL,
              json_pack("{s:I, s:I, s:I}", "first", (json_int_t)event->seq, "last",
                        (json_int_t)event->seq, "wall", (json_int_t)tx->now + STAMP_AHEAD_MS));
}

static void put(Tx *tx, const Event *event)
{
    json_t *body = json_incref(event->tree);

    if (body == NULL) body = body_read(event->body);
    take_stamp(tx, event);
    tx->gathering = true;
    engine_keep_event(tx, event, body);
    tx->gathering = false;
    json_decref(body);
}

Accepted tx_accept(Tx *tx, const Event *event)
{
    Head *head = head_of(tx, event->replica);
    uint8_t digest[DIGEST_BYTES];

    if (event->seq <= head->seq) {
        bool there = tx_digest(tx, event->replica, event->seq, digest);
        if (there && memcmp(digest, event->digest, DIGEST_BYTES) == 0) return ACCEPT_KNOWN;
        return tx_is_lost(tx) ? ACCEPT_GAP : ACCEPT_FORK;
    }
    if (tx_is_lost(tx)) return ACCEPT_GAP;
    if (event->seq != head->seq + 1 || strcmp(event->replica, tx->replica) == 0) return ACCEPT_GAP;
    if (!chain_holds(event, head->seq > 0 ? head->digest : NULL)) return ACCEPT_BROKEN;
    head->seq = event->seq;
    memcpy(head->digest, event->digest, DIGEST_BYTES);
    put(tx, event);
    return ACCEPT_NEW;
}

/* One step of the index for each replica, not a walk over all events. */
GArray *tx_vector(Tx *tx)
{
    GArray *vector = vector_new();
    g_autofree char *at = g_strdup("");
    bool more = true;

    while (more) {
        Statement *statement = engine_prepare(
            tx, "SELECT replica, seq, digest FROM event WHERE replica = (SELECT min(replica) FROM "
                "event WHERE replica > ?1) ORDER BY seq DESC LIMIT 1");
        VectorEntry entry = {0};

        if (statement == NULL) break;
        statement_bind_text(statement, 1, at);
        more = engine_step(tx, statement);
        if (more) {
            g_strlcpy(entry.replica, statement_text(statement, 0), sizeof entry.replica);
            entry.seq = statement_int(statement, 1);
            statement_copy_bytes(statement, 2, entry.digest, DIGEST_BYTES);
            g_array_append_val(vector, entry);
        }
        engine_give_back(statement, false);
        g_free(at);
        at = g_strdup(entry.replica);
    }
    return vector;
}

static bool recall(const Event *event, void *context)
{
    Tx *tx = context;
    Event seen = tx_seen(tx, event);

    stamp_recall(&tx->head.clock, tx->now, (Stamp){seen.wall, seen.logical});
    return true;
}

/* Along its chain a replica's stamps only grow, so that the last is its greatest. */
bool engine_recall(Tx *tx, int64_t now_ms)
{
    g_autoptr(GArray) vector = tx_vector(tx);

    tx->now = now_ms;
    for (guint i = 0; i < vector->len; i++) {
        const VectorEntry *last = &g_array_index(vector, VectorEntry, i);
        tx_events(tx, "replica = ?1 AND seq = ?2", recall, tx, "ti", last->replica, last->seq);
    }
    return tx->bad == STORE_OK;
}

/* --- a copy --- */

static bool keep_copy(const Event *event, void *context)
{
    g_ptr_array_add(context, event_copy(event));
    return true;
}

/* A body in which each text that is an id of renamed is the new one. */
static json_t *renamed_in(const json_t *value, GHashTable *renamed)
{
    json_t *copy;
    const char *name;
    json_t *member;
    size_t i;

    if (json_is_string(value)) {
        const char *id = g_hash_table_lookup(renamed, json_string_value(value));
        return id != NULL ? json_string(id) : json_copy((json_t *)value);
    }
    if (json_is_object(value)) {
        copy = json_object();
        json_object_foreach((json_t *)value, name, member)
            json_object_set_new(copy, name, renamed_in(member, renamed));
        return copy;
    }
    if (!json_is_array(value)) return json_copy((json_t *)value);
    copy = json_array();
    json_array_foreach((json_t *)value, i, member)
        json_array_append_new(copy, renamed_in(member, renamed));
    return copy;
}

/* Words that were erased are gone, and their event with them. */
static void write_anew(Tx *tx, const Event *event, GHashTable *renamed)
{
    json_t *body = body_read(event->body);

    if (body == NULL) return;
    const char *base = event->base != NULL ? g_hash_table_lookup(renamed, event->base) : NULL;
    const char *id = tx_append(tx, event->kind, event->subject, event->author,
                               base != NULL ? base : event->base, renamed_in(body, renamed));
    g_hash_table_insert(renamed, event_id(event), g_strdup(id));
    json_decref(body);
}

static void take_out(Tx *tx, int64_t shared)
{
    Statement *statement = engine_prepare(tx, "DELETE FROM event WHERE replica = ?1 AND seq > ?2");

    if (statement == NULL) return;
    statement_bind_text(statement, 1, tx->replica);
    statement_bind_int(statement, 2, shared);
    engine_step(tx, statement);
    engine_give_back(statement, false);
}

void tx_rename(Tx *tx, const char *replica, int64_t shared)
{
    g_autoptr(GPtrArray) own = g_ptr_array_new_with_free_func((GDestroyNotify)event_free);
    g_autoptr(GHashTable) renamed = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);

    tx_events(tx, "replica = ?1 AND seq > ?2 ORDER BY seq", keep_copy, own, "ti", tx->replica,
              shared);
    take_out(tx, shared);
    g_free(tx->replica);
    tx->replica = g_strdup(replica);
    tx->head.seq = 0;
    memset(tx->head.digest, 0, DIGEST_BYTES);
    g_hash_table_remove_all(tx->heads);
    tx_set_meta(tx, "replica", replica);
    tx_append(tx, "replica.joined", replica, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)tx->now));
    for (guint i = 0; i < own->len; i++)
        write_anew(tx, own->pdata[i], renamed);
    if (own->len > 0) tx->refold = true;
}
