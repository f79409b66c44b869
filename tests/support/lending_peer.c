/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/lending_peer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/store_memory.h"
#include "tests/support/store_bench.h"

static void run(LendingPeer *peer, StoreJob *job, void *context)
{
    store_submit(peer->store, LENDING_MORNING, job, NULL, context);
    while (store_memory_pump(peer->store) > 0)
        ;
}

static bool write_job(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "sender.taken", "clinic", "R. Okafor", NULL,
              json_pack("{s:s,s:i,s:s}", "replica", LENDING_OTHER, "epoch", 2, "by", "R. Okafor"));
    for (int i = 0; i < LENDING_CLIENTS; i++) {
        g_autofree char *client = g_strdup_printf("AAAAAA%02d", i);
        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s}}", "fields", "name", "Ada T."));
    }
    tx_append(tx, "client.set", LENDING_ERASED, "R. Okafor", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Marigold P."));
    tx_append(tx, "client.erase", LENDING_ERASED, "R. Okafor", NULL,
              json_pack("{s:I,s:s,s:s,s:[],s:[]}", "at", (json_int_t)LENDING_MORNING, "by",
                        "R. Okafor", "why", "asked", "also", "numbers"));
    for (int i = 0; i < LENDING_ENTRIES; i++) {
        g_autofree char *client = g_strdup_printf("AAAAAA%02d", i % LENDING_CLIENTS);
        g_autofree char *session =
            g_strdup_printf("%030x%02d", i / (3 * LENDING_CLIENTS), i % LENDING_CLIENTS);
        tx_append(tx, "report.made", client, "client", NULL,
                  json_pack("{s:I,s:s,s:s,s:i}", "at", (json_int_t)LENDING_MORNING + i, "done",
                            "yes", "session", session, "pain", i % 4));
    }
    return true;
}

static bool spoil_job(Tx *tx, void *context)
{
    (void)context;
    return tx_change(tx, "UPDATE report SET pain = '9' WHERE client = 'AAAAAA07'", "") > 0;
}

typedef struct {
    Parcel *answer;
    const Parcel *question;
} Answering;

static bool add_lacking(const Event *event, void *context)
{
    const Answering *answering = context;
    const VectorEntry *had = vector_find(answering->question->vector, event->replica);

    if (had != NULL && event->seq <= had->seq) return true;
    g_ptr_array_add(answering->answer->events, event_copy(event));
    answering->answer->more = answering->answer->events->len == 1000;
    return !answering->answer->more;
}

static bool answer_job(Tx *tx, void *context)
{
    Answering *answering = context;

    for (guint i = 0; i < answering->question->events->len; i++)
        tx_accept(tx, answering->question->events->pdata[i]);
    g_array_unref(answering->answer->vector);
    answering->answer->vector = tx_vector(tx);
    tx_events(tx, "ORDER BY replica, seq", add_lacking, answering, "");
    return true;
}

/* On the host's thread, as all that works on the store from then on. */
static Parcel *answer_parcel(const Parcel *question, void *context)
{
    LendingPeer *peer = context;
    Answering answering = {.answer = parcel_new(peer->rogue->replica, LENDING_MORNING),
                           .question = question};

    run(peer, answer_job, &answering);
    return answering.answer;
}

static GBytes *promise(LendingPeer *peer)
{
    char hex[2 * HASH_BYTES + 1];

    for (int i = 0; i < HASH_BYTES; i++)
        g_snprintf(hex + 2 * i, 3, "%02x", peer->made.digest[i]);
    g_atomic_int_inc(&peer->begun);
    json_t *document = json_pack(
        "{s:s, s:I, s:s, s:I}", "id", "00000000000000c0", "bytes",
        (json_int_t)(peer->manner == LENDS_LIES_OF_SIZE ? INT64_C(1) << 60 : peer->made.bytes),
        "digest", hex, "events", (json_int_t)peer->made.events);
    char *text = json_dumps(document, 0);
    GBytes *bytes = g_bytes_new(text, strlen(text));
    free(text);
    json_decref(document);
    return bytes;
}

static GBytes *piece(LendingPeer *peer, int64_t from, int *status)
{
    gsize length = MIN(LENDING_PIECE, peer->length - (gsize)from);

    if (from == 0) g_atomic_int_inc(&peer->from_start);
    if (peer->manner == LENDS_CUT_ONCE && from > 0 && g_atomic_int_add(&peer->cuts, 1) == 0) {
        *status = 503;
        return NULL;
    }
    if (peer->manner == LENDS_GARBAGE) return g_bytes_new("no piece", 8);
    if (peer->manner == LENDS_ENDLESS)
        return g_bytes_new_take(g_malloc0(3 * LENDING_PIECE), 3 * LENDING_PIECE);
    return g_bytes_new(peer->bytes + from, length);
}

static GBytes *lend(const json_t *question, int *status, void *context)
{
    LendingPeer *peer = context;

    *status = 200;
    if (json_object_get(question, "shape") != NULL) return promise(peer);
    if (json_object_get(question, "end") != NULL) {
        g_atomic_int_inc(&peer->ended);
        return NULL;
    }
    return piece(peer, json_integer_value(json_object_get(question, "from")), status);
}

static void copied(const char *problem, void *context)
{
    (void)context;
    assert_null(problem);
}

static void make_file(LendingPeer *peer)
{
    peer->store->copy(peer->store, peer->copy, copied, NULL);
    while (store_memory_pump(peer->store) > 0)
        ;
    g_autofree char *problem = snapshot_make(peer->copy, peer->file, &peer->made);
    assert_null(problem);
    assert_true(g_file_get_contents(peer->file, &peer->bytes, &peer->length, NULL));
    if (peer->manner == LENDS_TORN) peer->bytes[peer->length / 2] ^= 1;
}

static LendingPeer *peer_begin(LendingManner manner, const char *id)
{
    LendingPeer *peer = g_new0(LendingPeer, 1);

    peer->manner = manner;
    peer->folder = bench_folder();
    peer->copy = g_build_filename(peer->folder, "copy.db", NULL);
    peer->file = g_build_filename(peer->folder, "snapshot", NULL);
    peer->store = store_memory_new(id, LENDING_MORNING);
    peer->rogue = rogue_new(id);
    return peer;
}

static void peer_listen(LendingPeer *peer)
{
    make_file(peer);
    peer->host = rogue_host_new(peer->rogue, answer_parcel, peer);
    rogue_host_lends(peer->host, lend);
}

LendingPeer *lending_peer_new(LendingManner manner, bool spoilt)
{
    LendingPeer *peer = peer_begin(manner, LENDING_OTHER);

    run(peer, write_job, NULL);
    if (spoilt) run(peer, spoil_job, NULL);
    peer_listen(peer);
    return peer;
}

static bool keep_copy(const Event *event, void *context)
{
    g_ptr_array_add(context, event_copy(event));
    return true;
}

static bool give_all_job(Tx *tx, void *context)
{
    tx_events(tx, "ORDER BY replica, seq", keep_copy, context, "");
    return true;
}

static bool accept_all_job(Tx *tx, void *context)
{
    const GPtrArray *events = context;

    for (guint i = 0; i < events->len; i++)
        assert_int_equal(tx_accept(tx, events->pdata[i]), ACCEPT_NEW);
    return true;
}

void lending_peers_new(LendingPeer *peers[2])
{
    g_autoptr(GPtrArray) events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free);

    peers[0] = peer_begin(LENDS_HONEST, LENDING_OTHER);
    peers[1] = peer_begin(LENDS_HONEST, "00000000000000bb");
    run(peers[0], write_job, NULL);
    run(peers[0], give_all_job, events);
    run(peers[1], accept_all_job, events);
    peer_listen(peers[0]);
    peer_listen(peers[1]);
}

void lending_peer_free(LendingPeer *peer)
{
    rogue_host_free(peer->host);
    rogue_free(peer->rogue);
    peer->store->close(peer->store);
    bench_remove(peer->folder);
    g_free(peer->folder);
    g_free(peer->copy);
    g_free(peer->file);
    g_free(peer->bytes);
    g_free(peer);
}
