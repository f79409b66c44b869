/* SPDX-License-Identifier: Apache-2.0 */
/* A new replica takes a snapshot from a peer that has very much; whatever the peer gives, it ends with what the entries give. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/snapshot.h"
#include "adapters/store/store_memory.h"
#include "tests/support/json_look.h"
#include "tests/support/replicas.h"
#include "tests/support/rogue.h"
#include "tests/support/store_bench.h"

#define MORNING INT64_C(1772442000000) /* of REPLICAS_MONDAY */
#define LATER "2026-03-02T09:20:00Z"
#define OTHER "00000000000000aa"
#define ENTRIES 21000
#define PIECE (1024 * 1024)
#define CLIENTS 40
#define ERASED "AAAAAA77"

/* --- a peer that the test plays, with a ledger of its own --- */

typedef enum { HONEST, CUT_ONCE, TORN, GARBAGE, ENDLESS, LIES_OF_SIZE } Manner;

typedef struct {
    Rogue *rogue;
    RogueHost *host;
    Store *store;
    char *folder, *copy, *file, *bytes;
    gsize length;
    SnapshotMade made;
    Manner manner;
    gint cuts, begun, from_start;
} Peer;

static void run(Peer *peer, StoreJob *job, void *context)
{
    store_submit(peer->store, MORNING, job, NULL, context);
    while (store_memory_pump(peer->store) > 0)
        ;
}

static bool write_job(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "sender.taken", "clinic", "R. Okafor", NULL,
              json_pack("{s:s,s:i,s:s}", "replica", OTHER, "epoch", 2, "by", "R. Okafor"));
    for (int i = 0; i < CLIENTS; i++) {
        g_autofree char *client = g_strdup_printf("AAAAAA%02d", i);
        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s}}", "fields", "name", "Ada T."));
    }
    tx_append(tx, "client.set", ERASED, "R. Okafor", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Marigold P."));
    tx_append(tx, "client.erase", ERASED, "R. Okafor", NULL,
              json_pack("{s:I,s:s,s:s,s:[],s:[]}", "at", (json_int_t)MORNING, "by", "R. Okafor",
                        "why", "asked", "also", "numbers"));
    for (int i = 0; i < ENTRIES; i++) {
        g_autofree char *client = g_strdup_printf("AAAAAA%02d", i % CLIENTS);
        g_autofree char *session = g_strdup_printf("%030x%02d", i / (3 * CLIENTS), i % CLIENTS);
        tx_append(tx, "report.made", client, "client", NULL,
                  json_pack("{s:I,s:s,s:s,s:i}", "at", (json_int_t)MORNING + i, "done", "yes",
                            "session", session, "pain", i % 4));
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
    tx_events(tx, "replica = ?1 ORDER BY seq", add_lacking, answering, "t", OTHER);
    return true;
}

/* On the host's thread, as all that works on the store from then on. */
static Parcel *answer_parcel(const Parcel *question, void *context)
{
    Peer *peer = context;
    Answering answering = {.answer = parcel_new(OTHER, MORNING), .question = question};

    run(peer, answer_job, &answering);
    return answering.answer;
}

static GBytes *promise(Peer *peer)
{
    char hex[2 * HASH_BYTES + 1];

    for (int i = 0; i < HASH_BYTES; i++)
        g_snprintf(hex + 2 * i, 3, "%02x", peer->made.digest[i]);
    g_atomic_int_inc(&peer->begun);
    json_t *document =
        json_pack("{s:s, s:I, s:s, s:I}", "id", "00000000000000c0", "bytes",
                  (json_int_t)(peer->manner == LIES_OF_SIZE ? INT64_C(1) << 60 : peer->made.bytes),
                  "digest", hex, "events", (json_int_t)peer->made.events);
    char *text = json_dumps(document, 0);
    GBytes *bytes = g_bytes_new(text, strlen(text));
    free(text);
    json_decref(document);
    return bytes;
}

static GBytes *piece(Peer *peer, int64_t from, int *status)
{
    gsize length = MIN(PIECE, peer->length - (gsize)from);

    if (from == 0) g_atomic_int_inc(&peer->from_start);
    if (peer->manner == CUT_ONCE && from > 0 && g_atomic_int_add(&peer->cuts, 1) == 0) {
        *status = 503;
        return NULL;
    }
    if (peer->manner == GARBAGE) return g_bytes_new("no piece", 8);
    if (peer->manner == ENDLESS) return g_bytes_new_take(g_malloc0(3 * PIECE), 3 * PIECE);
    return g_bytes_new(peer->bytes + from, length);
}

static GBytes *lend(const json_t *question, int *status, void *context)
{
    Peer *peer = context;

    *status = 200;
    if (json_object_get(question, "shape") != NULL) return promise(peer);
    if (json_object_get(question, "end") != NULL) return NULL;
    return piece(peer, json_integer_value(json_object_get(question, "from")), status);
}

static void copied(const char *problem, void *context)
{
    (void)context;
    assert_null(problem);
}

static void make_file(Peer *peer)
{
    peer->store->copy(peer->store, peer->copy, copied, NULL);
    while (store_memory_pump(peer->store) > 0)
        ;
    g_autofree char *problem = snapshot_make(peer->copy, peer->file, &peer->made);
    assert_null(problem);
    assert_true(g_file_get_contents(peer->file, &peer->bytes, &peer->length, NULL));
    if (peer->manner == TORN) peer->bytes[peer->length / 2] ^= 1;
}

static Peer *peer_new(Manner manner, bool spoilt)
{
    Peer *peer = g_new0(Peer, 1);

    peer->manner = manner;
    peer->folder = bench_folder();
    peer->copy = g_build_filename(peer->folder, "copy.db", NULL);
    peer->file = g_build_filename(peer->folder, "snapshot", NULL);
    peer->store = store_memory_new(OTHER, MORNING);
    run(peer, write_job, NULL);
    if (spoilt) run(peer, spoil_job, NULL);
    make_file(peer);
    peer->rogue = rogue_new(OTHER);
    peer->host = rogue_host_new(peer->rogue, answer_parcel, peer);
    rogue_host_lends(peer->host, lend);
    return peer;
}

static void peer_free(Peer *peer)
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

/* --- a laptop that is new --- */

static Site *laptop_new(Peer *peer)
{
    Site *laptop = replica_new("laptop", 12, 0);

    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    g_autofree char *code = rogue_host_code(peer->host);
    json_decref(
        site_ask(laptop, "sync pair %s --with 127.0.0.1:%d", code, rogue_host_port(peer->host)));
    return laptop;
}

static char *state_of(Site *site)
{
    json_t *status = site_ask(site, "sync status");
    const json_t *snapshot = json_object_get(status, "snapshot");
    char *state = g_strdup(json_string_value(json_object_get(snapshot, "state")));

    json_decref(status);
    return state;
}

static void must_have_all(Site *site)
{
    json_t *status = site_ask(site, "sync status");

    assert_true(json_integer_value(json_object_get(status, "entries")) > ENTRIES);
    json_decref(status);
    assert_int_equal(replica_count(site, "client list"), CLIENTS);
}

static void must_be_sound(Site *site)
{
    assert_int_equal(site_stop(site), 0);
    json_decref(site_ask(site, "check"));
}

/* Nothing of it stays in the folder. */
static void must_be_tidy(const Site *site)
{
    g_autoptr(GDir) names = g_dir_open(site->clinic, 0, NULL);
    const char *name;

    while ((name = g_dir_read_name(names)) != NULL)
        if (g_str_has_prefix(name, ".snapshot-")) fail_msg("%s is left", name);
}

static void it_is_taken_and_looked_over(void **state)
{
    Peer *peer = peer_new(HONEST, false);
    Site *laptop = laptop_new(peer);

    (void)state;
    g_autofree char *entered = replica_client(laptop, "Bo T.", 2);
    replica_visit(laptop);
    assert_true(site_clock(laptop, LATER));
    g_autofree char *proved = state_of(laptop), *told = site_told(laptop, "sync status");
    assert_string_equal(proved, "proved");
    assert_non_null(strstr(told, "came as a snapshot from"));
    assert_int_equal(replica_count(laptop, "client list"), CLIENTS + 1);
    assert_true(g_atomic_int_get(&peer->begun) >= 1);
    /* who was erased before is on this folder's list too */
    g_autofree char *list = g_build_filename(laptop->clinic, "erased.jsonl", NULL), *lines = NULL;
    assert_true(g_file_get_contents(list, &lines, NULL, NULL));
    assert_non_null(strstr(lines, ERASED));
    must_be_tidy(laptop);
    must_be_sound(laptop);
    site_free(laptop);
    peer_free(peer);
}

/* What stands where the copy would be made keeps the tables from being looked over. */
static void until_it_was_looked_over_nothing_is_sent(void **state)
{
    Peer *peer = peer_new(HONEST, false);
    Site *laptop = laptop_new(peer);
    g_autofree char *there = g_build_filename(laptop->clinic, ".snapshot-proof", NULL);

    (void)state;
    assert_int_equal(g_mkdir(there, 0700), 0);
    replica_visit(laptop);
    must_have_all(laptop);
    site_fails(laptop, 75, "snapshot", "sender take --by 'R. Okafor'");
    g_autofree char *told = site_told(laptop, "sync status");
    assert_non_null(strstr(told, "does not take the duty"));
    site_kill(laptop);
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    site_fails(laptop, 75, "snapshot", "sender take --by 'R. Okafor'");
    assert_int_equal(g_rmdir(there), 0);
    assert_true(site_clock(laptop, LATER));
    g_autofree char *proved = state_of(laptop);
    assert_string_equal(proved, "proved");
    json_decref(site_ask(laptop, "sender take --by 'R. Okafor'"));
    must_be_sound(laptop);
    site_free(laptop);
    peer_free(peer);
}

/* Killed in the midst, it begins anew, and nothing is left of before. */
static void who_is_killed_in_the_midst_begins_anew(void **state)
{
    Peer *peer = peer_new(CUT_ONCE, false);
    Site *laptop = laptop_new(peer);

    (void)state;
    site_osier(laptop, NULL, NULL, "sync now");
    site_kill(laptop);
    assert_int_equal(g_atomic_int_get(&peer->cuts), 1);
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    replica_visit(laptop);
    must_have_all(laptop);
    assert_true(site_clock(laptop, LATER));
    must_be_tidy(laptop);
    must_be_sound(laptop);
    site_free(laptop);
    peer_free(peer);
}

static void a_cut_line_costs_one_piece(void **state)
{
    Peer *peer = peer_new(CUT_ONCE, false);
    Site *laptop = replica_new("laptop", 12, 0);

    (void)state;
    assert_true(peer->length > PIECE);
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    g_autofree char *code = rogue_host_code(peer->host);
    json_decref(
        site_ask(laptop, "sync pair %s --with 127.0.0.1:%d", code, rogue_host_port(peer->host)));
    for (int i = 0; i < 3; i++)
        site_osier(laptop, NULL, NULL, "sync now");
    replica_visit(laptop);
    must_have_all(laptop);
    g_autofree char *after = state_of(laptop);
    assert_non_null(after);
    assert_int_equal(g_atomic_int_get(&peer->from_start), 1);
    assert_true(g_atomic_int_get(&peer->begun) > 1);
    must_be_sound(laptop);
    site_free(laptop);
    peer_free(peer);
}

/* What a liar gives is refused whole, and the entries come one by one. */
static void what_does_not_hold_is_refused(void **state)
{
    static const Manner MANNERS[] = {TORN, GARBAGE, ENDLESS, LIES_OF_SIZE};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MANNERS); i++) {
        Peer *peer = peer_new(MANNERS[i], false);
        Site *laptop = laptop_new(peer);
        for (int k = 0; k < 2; k++)
            site_osier(laptop, NULL, NULL, "sync now");
        g_autofree char *none = state_of(laptop);
        assert_null(none);
        must_have_all(laptop);
        assert_int_equal(g_atomic_int_get(&peer->begun), 1);
        must_be_tidy(laptop);
        must_be_sound(laptop);
        site_free(laptop);
        peer_free(peer);
    }
}

static void tables_that_the_entries_do_not_give_are_made_anew(void **state)
{
    Peer *peer = peer_new(HONEST, true);
    Site *laptop = laptop_new(peer);

    (void)state;
    replica_visit(laptop);
    assert_true(site_clock(laptop, LATER));
    g_autofree char *after = state_of(laptop), *told = site_told(laptop, "sync status");
    assert_string_equal(after, "made-anew");
    assert_non_null(strstr(told, "were made anew here"));
    must_have_all(laptop);
    must_be_sound(laptop);
    site_free(laptop);
    peer_free(peer);
}

/* --- both are real --- */

static void write_one(Rogue *rogue, Parcel *parcel, int i)
{
    g_autofree char *client = g_strdup_printf("AAAAAA%02d", i % CLIENTS);
    g_autofree char *report = g_strdup_printf(
        "{\"at\":%" G_GINT64_FORMAT ",\"done\":\"yes\",\"session\":\"%032x\"}", MORNING + i, i / 3);

    if (i < CLIENTS)
        rogue_writes(rogue, parcel, MORNING + i, "client.set", client,
                     "{\"fields\":{\"name\":\"Ada T.\"}}");
    else
        rogue_writes(rogue, parcel, MORNING + i, "report.made", client, report);
}

static void fill(Rogue *rogue, int port)
{
    for (int i = 0; i < ENTRIES;) {
        Parcel *parcel = parcel_new(rogue->replica, MORNING);
        long status;
        for (; i < ENTRIES && parcel->events->len < PARCEL_EVENTS_MAX; i++)
            write_one(rogue, parcel, i);
        parcel_free(rogue_visits(rogue, port, parcel, &status));
        assert_int_equal(status, 200);
    }
}

static void a_box_gives_one_to_each_laptop(void **state)
{
    int port = site_free_port();
    Site *box = replica_new("box", 11, port), *laptop = replica_new("laptop", 12, 0);
    Rogue *rogue = rogue_new("00000000000000cc");
    g_autoptr(GString) heard = g_string_new(NULL);

    (void)state;
    assert_int_equal(site_start(box, REPLICAS_MONDAY), 0);
    g_autofree char *code = replica_code(box);
    assert_int_equal(rogue_meets(rogue, port, code, REPLICAS_CLINIC), 200);
    fill(rogue, port);
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    replica_pair(laptop, box, port);
    replica_visit(laptop);
    g_autofree char *taken = state_of(laptop);
    assert_non_null(taken);
    replicas_alike(box, laptop, "client list");
    g_autofree char *before = replica_client(box, "Cy T.", 3);
    replica_visit(laptop);
    replicas_alike(box, laptop, "client list");
    assert_true(site_clock(laptop, LATER));
    must_be_tidy(laptop);
    must_be_tidy(box);
    /* who is a stranger, or asks for what cannot be, learns nothing */
    g_autoptr(GBytes) odd = g_bytes_new("{\"id\":\"x\",\"from\":-1}", 20);
    assert_int_equal(rogue_asks(NULL, port, "POST", "/snapshot", odd, false, heard) == 200, 0);
    assert_int_equal(rogue_asks(rogue, port, "POST", "/snapshot", odd, false, heard), 410);
    g_autoptr(GBytes) none = g_bytes_new("[", 1);
    assert_int_equal(rogue_asks(rogue, port, "POST", "/snapshot", none, false, heard), 400);
    replicas_end(box, laptop);
    rogue_free(rogue);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_taken_and_looked_over),
        cmocka_unit_test(until_it_was_looked_over_nothing_is_sent),
        cmocka_unit_test(who_is_killed_in_the_midst_begins_anew),
        cmocka_unit_test(a_cut_line_costs_one_piece),
        cmocka_unit_test(what_does_not_hold_is_refused),
        cmocka_unit_test(tables_that_the_entries_do_not_give_are_made_anew),
        cmocka_unit_test(a_box_gives_one_to_each_laptop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
