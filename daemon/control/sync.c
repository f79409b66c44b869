/* SPDX-License-Identifier: Apache-2.0 */
/* Which replica sends, how the replicas of the clinic stand to one another, and what goes between them on a stick. */
#include <string.h>

#include "adapters/peer/parcel.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_practice.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/takeover.h"
#include "daemon/sync/merge.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/proof.h"

/* Packed and written as text it must go through one call of the API. */
#define BUNDLE_EVENTS 1000

static json_t *sender_json(Job *job)
{
    g_autoptr(Sender) sender = sender_load(job->tx);
    g_autofree char *why = sender_why_not(job->tx, sender);
    g_autofree char *name = sender->replica != NULL ? replica_name(job->tx, sender->replica) : NULL;

    return json_pack("{s:s?, s:s?, s:I, s:b, s:s?, s:o, s:s?}", "replica", sender->replica, "name",
                     name, "epoch", (json_int_t)sender->epoch, "here", sender->here, "by",
                     sender->by, "since",
                     sender->since > 0 ? json_instant(sender->since) : json_null(), "why", why);
}

bool handle_sender_show(Job *job, Call *call)
{
    return call_ok(call, sender_json(job));
}

/* Who sends before it has all that the sender before did asks clients again, whom that one asked today. False after answering. */
static bool may_take(Job *job, Call *call)
{
    g_autofree char *own = replica_name(job->tx, tx_replica(job->tx));
    Reach reach = peers_reach(job);

    if (job->sender || json_is_true(json_object_get(call->body, "even_so"))) return true;
    if (!reach.heard)
        return call_fail(call, EXIT_LATER, "sender", own,
                         "nothing has come from any other replica yet, so clients who were asked "
                         "today would be asked again; let it visit first: osier sync now. If the "
                         "others are lost for good: osier sender take --by NAME --even-so");
    if (reach.here < reach.known)
        return call_fail(call, EXIT_LATER, "sender", own,
                         "%" G_GINT64_FORMAT " of %" G_GINT64_FORMAT
                         " entries are here, so clients who were asked already could be asked "
                         "again; let the rest come first: osier sync now. If who has them is lost "
                         "for good, or visits and they never come: osier sender take --by NAME "
                         "--even-so",
                         reach.here, reach.known);
    if (proof_is_open(job))
        return call_fail(call, EXIT_LATER, "sender", own,
                         "its tables came as a snapshot, and that they are what its entries give "
                         "has still to come out: osier sync status tells. If that cannot be "
                         "waited for: osier sender take --by NAME --even-so");
    return true;
}

bool handle_sender_take(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME, who gives this replica the duty to send");

    if (by == NULL || !may_take(job, call)) return false;
    takeover_take(job, by);
    return call_ok(call, sender_json(job));
}

static json_t *peers_json(Job *job)
{
    g_autoptr(GPtrArray) rows = peers_all(job);
    g_autoptr(GArray) own = tx_vector(job->tx);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, peer_json(rows->pdata[i], own));
    return list;
}

static char *was(Job *job, const char *own)
{
    g_autofree char *text = find_setting(job->tx, own, "replica.was");
    json_t *value = text != NULL ? json_loads(text, JSON_DECODE_ANY, NULL) : NULL;
    char *id = g_strdup(json_string_value(value));

    json_decref(value);
    return id;
}

/* The id of the replica whose store this one is a copy of, for as long as both have one key: until it is paired anew with all
 * that it was paired with then. NULL: of none. */
static char *twin_of(Job *job)
{
    const char *own = tx_replica(job->tx);
    int64_t since_ms = find_setting_since(job->tx, own, "replica.was");
    g_autoptr(GPtrArray) peers = peers_all(job);

    for (guint i = 0; i < peers->len; i++)
        if (row_is_null(peers->pdata[i], PEER_CUT_AT) &&
            row_int(peers->pdata[i], PEER_PAIRED_AT) < since_ms)
            return was(job, own);
    return NULL;
}

bool handle_sync_status(Job *job, Call *call)
{
    g_autofree char *name = replica_name(job->tx, tx_replica(job->tx));
    g_autofree char *twin = twin_of(job);
    Reach reach = peers_reach(job);

    return call_ok(call,
                   json_pack("{s:s, s:s, s:o, s:o, s:i, s:s?, s:I, s:I, s:o}", "replica",
                             tx_replica(job->tx), "name", name, "sender", sender_json(job), "peers",
                             peers_json(job), "conflicts", conflicts_count(job), "copy_of", twin,
                             "entries", (json_int_t)reach.here, "entries_known",
                             (json_int_t)reach.known, "snapshot", proof_json(job)));
}

/* The peer that the field names; NULL after answering. */
static Row *named_peer(Job *job, Call *call, const char *name)
{
    Row *peer = name != NULL ? peer_named(job, name) : NULL;

    if (peer == NULL && name != NULL)
        call_fail(
            call, EXIT_NO_SUCH, "peer", name,
            "is none that this replica was paired with, or several begin so: osier sync status");
    return peer;
}

bool handle_sync_unpair(Job *job, Call *call)
{
    g_autoptr(Row) peer = named_peer(job, call, call->id[0]);

    if (peer == NULL) return false;
    if (row_is_null(peer, PEER_CUT_AT)) {
        row_set_int(peer, PEER_CUT_AT, job->now_ms);
        tx_put(job->tx, peer);
        tx_append(job->tx, "replica.cut", row_text(peer, PEER_ID), call_author(call), NULL,
                  json_pack("{s:I}", "at", (json_int_t)job->now_ms));
    }
    g_autoptr(GArray) own = tx_vector(job->tx);
    return call_ok(call, peer_json(peer, own));
}

/* --- bundles ---------------------------------------------------------------------------------------- */

/* The vector reaches to that number of that replica, where it is here. */
static void reach(Job *job, GArray *vector, const char *replica, int64_t seq)
{
    uint8_t digest[DIGEST_BYTES];

    if (replica == NULL || !tx_digest(job->tx, replica, seq, digest)) return;
    for (guint i = 0; i < vector->len; i++)
        if (strcmp(g_array_index(vector, VectorEntry, i).replica, replica) == 0)
            g_array_remove_index(vector, i--);
    vector_add(vector, replica, seq, digest);
}

/* Where the next parcel goes on: the last number of each replica that is in this one. */
static json_t *reached_by(const Parcel *parcel)
{
    json_t *reached = json_array();

    for (guint i = 0; i < parcel->events->len; i++) {
        const Event *event = parcel->events->pdata[i];
        const Event *next = i + 1 < parcel->events->len ? parcel->events->pdata[i + 1] : NULL;
        if (next == NULL || strcmp(next->replica, event->replica) != 0)
            json_array_append_new(reached,
                                  json_pack("[s, I]", event->replica, (json_int_t)event->seq));
    }
    return reached;
}

/* {"peer", "after": [[replica, seq], ...]}: a parcel of what comes after, or of what the peer lacked when last heard of where
 * nothing is said; with where to go on, and whom it is for. */
bool handle_sync_bundle(Job *job, Call *call)
{
    const char *name = call_need(call, "peer", "a peer's name, or the beginning of its id");
    g_autoptr(Row) peer = named_peer(job, call, name);
    const json_t *after = json_object_get(call->body, "after");
    size_t i;
    json_t *item;

    if (peer == NULL) return false;
    if (!row_is_null(peer, PEER_CUT_AT))
        return call_fail(call, EXIT_NOT_ALLOWED, "peer", peer_name(peer), "was unpaired");
    g_autoptr(GArray) vector = peer_vector(peer);
    if (json_is_true(json_object_get(call->body, "all"))) g_array_set_size(vector, 0);
    json_array_foreach((json_t *)after, i, item)
    {
        reach(job, vector, json_string_value(json_array_get(item, 0)),
              json_integer_value(json_array_get(item, 1)));
    }
    g_autoptr(Parcel) parcel = merge_parcel(job);
    merge_give(job, vector, parcel, BUNDLE_EVENTS);
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    gsize length;
    const void *bytes = packed != NULL ? g_bytes_get_data(packed, &length) : NULL;
    g_autofree char *text = bytes != NULL ? g_base64_encode(bytes, length) : NULL;
    if (text == NULL)
        return call_fail(call, EXIT_DATA, "bundle", "", "an entry is too large to be carried");
    return call_ok(call,
                   json_pack("{s:s, s:s, s:s, s:s, s:i, s:o, s:b}", "replica", tx_replica(job->tx),
                             "to", row_text(peer, PEER_ID), "seal", row_text(peer, PEER_SEAL_KEY),
                             "parcel", text, "events", (int)parcel->events->len, "reached",
                             reached_by(parcel), "more", parcel->more));
}

/* {"from", "parcel"}: takes in a parcel that a bundle brought; its seal and signature were looked at before. */
bool handle_sync_take(Job *job, Call *call)
{
    const char *from = call_need(call, "from", "the replica that made the bundle");
    const char *text = from != NULL ? call_need(call, "parcel", "a parcel of a bundle") : NULL;
    g_autoptr(Row) peer = text != NULL ? tx_get_text(job->tx, TABLE_PEER, from) : NULL;
    const char *why;
    gsize length;

    if (text == NULL) return false;
    if (peer == NULL || !row_is_null(peer, PEER_CUT_AT))
        return call_fail(call, EXIT_NOT_ALLOWED, "from", from, "is no peer of this replica");
    guchar *bytes = g_base64_decode(text, &length);
    g_autoptr(GBytes) packed = g_bytes_new_take(bytes, length);
    g_autoptr(Parcel) parcel = parcel_unpack(packed, &why);
    if (parcel == NULL) return call_fail(call, EXIT_DATA, "parcel", "", "cannot be read: %s", why);
    if (strcmp(parcel->replica, from) != 0)
        return call_fail(call, EXIT_DATA, "parcel", parcel->replica, "is by another replica");
    g_autoptr(GArray) before = tx_vector(job->tx);
    g_autofree char *forked = merge_take(job, parcel);
    if (forked != NULL)
        return call_fail(call, EXIT_DATA, "bundle", forked,
                         "the entries of this replica are others there than here: one of the two "
                         "stores is a copy; let it visit the other over a line first");
    g_autoptr(GArray) after = tx_vector(job->tx);
    for (guint i = 0; i < parcel->events->len; i++) {
        const Event *event = parcel->events->pdata[i];
        const VectorEntry *head = vector_find(after, event->replica);
        if (head != NULL && head->seq >= event->seq) continue;
        return call_fail(call, EXIT_DATA, "bundle", event->replica,
                         "the bundle begins after entry %" G_GINT64_FORMAT
                         " of this replica, and those before it are not here: have it made again "
                         "with --all",
                         event->seq - 1);
    }
    peer_set_vector(peer, parcel->vector);
    tx_put(job->tx, peer);
    return call_ok(call, json_pack("{s:I}", "new", (json_int_t)vector_ahead(after, before)));
}
