/* SPDX-License-Identifier: Apache-2.0 */
/* Strangers and lying peers against a real replica: never a crash, never a loss, always a line that says what is so. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/ledger_tables.h"
#include "tests/support/replicas.h"
#include "tests/support/rogue.h"

#define MORNING INT64_C(1772442000000) /* of REPLICAS_MONDAY */
#define ROGUE "00000000000000aa"
#define OTHER "00000000000000bb"

typedef struct {
    Site *box;
    int port;
    Rogue *rogue;
} Attack;

/* A box, and a peer of it that the test plays. */
static Attack *attack_new(void)
{
    Attack *attack = g_new0(Attack, 1);

    attack->port = site_free_port();
    attack->box = replica_new("box", 11, attack->port);
    attack->rogue = rogue_new(ROGUE);
    assert_int_equal(site_start(attack->box, REPLICAS_MONDAY), 0);
    g_autofree char *code = replica_code(attack->box);
    assert_int_equal(rogue_meets(attack->rogue, attack->port, code, REPLICAS_CLINIC), 200);
    return attack;
}

static void attack_free(Attack *attack)
{
    site_free(attack->box);
    rogue_free(attack->rogue);
    g_free(attack);
}

static Parcel *parcel_of(const Attack *attack)
{
    return parcel_new(attack->rogue->replica, MORNING);
}

static long visit(const Attack *attack, Parcel *parcel)
{
    long status;

    parcel_free(rogue_visits(attack->rogue, attack->port, parcel, &status));
    return status;
}

static long post(const Attack *attack, const Rogue *as, const void *bytes, size_t length)
{
    g_autoptr(GString) heard = g_string_new(NULL);
    g_autoptr(GBytes) body = g_bytes_new(bytes, length);

    return rogue_asks(as, attack->port, "POST", "/sync", body, false, heard);
}

/* The box is well: it takes in an honest change, and its record holds. */
static void assert_well(Attack *attack)
{
    Parcel *parcel = parcel_of(attack);

    rogue_writes(attack->rogue, parcel, MORNING + 60000, "client.set", "ZZZZZZZZ",
                 "{\"fields\":{\"name\":\"Honest H.\"}}");
    assert_int_equal(visit(attack, parcel), 200);
    json_t *shown = site_ask(attack->box, "client show ZZZZZZZZ");
    look_is(shown, "name", "Honest H.");
    json_decref(shown);
    assert_int_equal(site_stop(attack->box), 0);
    json_decref(site_ask(attack->box, "check --rebuild"));
}

/* --- strangers --- */

static void assert_silence(const Rogue *as, int port, const char *method, const char *path,
                           size_t length)
{
    g_autoptr(GString) heard = g_string_new(NULL);
    g_autoptr(GBytes) body = length > 0 ? g_bytes_new_take(g_malloc0(length), length) : NULL;
    long status = rogue_asks(as, port, method, path, body, false, heard);
    g_autofree char *small = g_ascii_strdown(heard->str, -1);

    if (status != 404 || !g_str_has_suffix(heard->str, "\r\n\r\n") ||
        strstr(small, "osier") != NULL || strstr(small, "content-length: 0") == NULL)
        fail_msg("%s %s: %ld: %s", method, path, status, heard->str);
}

static void assert_silence_to(const Rogue *as, int port)
{
    assert_silence(as, port, "GET", "/", 0);
    assert_silence(as, port, "POST", "/sync", 40);
    assert_silence(as, port, "POST", "/pair", 40);
    assert_silence(as, port, "DELETE", "/sync/status", 0);
    assert_silence(as, port, "POST", "/sync", PARCEL_MAX + 100000);
    assert_silence(as, port, "POST", "/pair", PARCEL_MAX + 100000);
}

static void strangers_and_the_unpaired_see_empty_404s(void **state)
{
    Attack *attack = attack_new();
    Rogue *stranger = rogue_new(OTHER);
    g_autoptr(GString) heard = g_string_new(NULL);

    (void)state;
    assert_silence_to(NULL, attack->port);
    assert_silence_to(stranger, attack->port);
    /* while a code is open as well */
    g_autofree char *code = replica_code(attack->box);
    assert_silence(NULL, attack->port, "POST", "/pair", 40);
    assert_silence(stranger, attack->port, "POST", "/pair", 40);
    /* RFC 8446 section 4.1.3: a server that speaks 1.3 alone gives older clients nothing */
    assert_int_equal(rogue_asks(attack->rogue, attack->port, "GET", "/", NULL, true, heard), 0);
    json_decref(site_ask(attack->box, "sync unpair rogue"));
    assert_silence_to(attack->rogue, attack->port);
    rogue_free(stranger);
    attack_free(attack);
}

/* --- a peer that lies --- */

static void a_peer_that_sends_garbage_is_refused(void **state)
{
    Attack *attack = attack_new();
    g_autofree char *zeros = g_malloc0(PARCEL_MAX + 1000);

    (void)state;
    assert_int_equal(post(attack, attack->rogue, "", 0), 400);
    assert_int_equal(post(attack, attack->rogue, "garbage", 7), 400);
    assert_int_equal(post(attack, attack->rogue, zeros, 100000), 400);
    assert_int_equal(post(attack, attack->rogue, zeros, PARCEL_MAX + 1000), 413);
    g_autofree char *told = site_told(attack->box, "sync status");
    assert_non_null(strstr(told, "what it sent cannot be read"));
    assert_well(attack);
    attack_free(attack);
}

static void claim(Parcel *parcel, const char *replica, int64_t seq)
{
    const uint8_t digest[DIGEST_BYTES] = {1, 2, 3};

    vector_add(parcel->vector, replica, seq, digest);
}

static void a_lie_about_what_a_peer_has_changes_nothing(void **state)
{
    Attack *attack = attack_new();
    g_autofree char *box = replica_id(attack->box);
    const int64_t SEQS[] = {1, 1000000, PARCEL_SEQ_MAX};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SEQS); i++) {
        Parcel *parcel = parcel_of(attack);
        claim(parcel, box, SEQS[i]);
        claim(parcel, OTHER, SEQS[i]);
        claim(parcel, ROGUE, SEQS[i]);
        assert_int_equal(visit(attack, parcel), 200);
        json_decref(site_ask(attack->box, "sync status"));
    }
    Parcel *huge = parcel_of(attack);
    claim(huge, OTHER, PARCEL_SEQ_MAX + 1);
    assert_int_equal(visit(attack, huge), 400);
    Parcel *as_box = parcel_new(box, MORNING);
    assert_int_equal(visit(attack, as_box), 200);
    Parcel *early = parcel_new(ROGUE, INT64_MIN);
    assert_int_equal(visit(attack, early), 400);
    g_autofree char *after = replica_id(attack->box);
    assert_string_equal(after, box);
    assert_well(attack);
    attack_free(attack);
}

static void a_peer_cannot_take_anothers_name(void **state)
{
    Attack *attack = attack_new();
    Rogue *other = rogue_new(OTHER);
    long status;

    (void)state;
    g_autofree char *code = replica_code(attack->box);
    assert_int_equal(rogue_meets(other, attack->port, code, REPLICAS_CLINIC), 200);
    Parcel *parcel = parcel_new(ROGUE, MORNING);
    parcel_free(rogue_visits(other, attack->port, parcel, &status));
    assert_int_equal(status, 409);
    rogue_free(other);
    assert_well(attack);
    attack_free(attack);
}

static void events_with_impossible_stamps_are_bounded(void **state)
{
    static const int64_t WALLS[] = {INT64_MAX, INT64_MIN, INT64_C(253402300799999), -1, 0};
    Attack *attack = attack_new();
    g_autofree char *client = replica_client(attack->box, "Ada N.", 1);

    (void)state;
    replica_plan(attack->box, client);
    for (size_t i = 0; i < G_N_ELEMENTS(WALLS); i++) {
        Parcel *parcel = parcel_of(attack);
        g_autofree char *alert = g_strdup_printf("%032x", (unsigned)i + 1);
        g_autofree char *opened = g_strdup_printf(
            "{\"client\":\"%s\",\"code\":\"Q%d\",\"kind\":\"fall\",\"class\":\"today\",\"at\":%d,"
            "\"reasons\":[],\"cause\":\"x\"}",
            client, (int)i, (int)i);
        rogue_writes(attack->rogue, parcel, WALLS[i], "client.set", client,
                     "{\"fields\":{\"needs\":\"rings only\"}}");
        rogue_writes(attack->rogue, parcel, WALLS[i], "plan.move", client,
                     "{\"stage\":\"hamstring-1\",\"from\":\"calf-1\",\"by\":\"R. Okafor\"}");
        rogue_writes(attack->rogue, parcel, WALLS[i], "alert.opened", alert, opened);
        rogue_writes(attack->rogue, parcel, WALLS[i], "alert.closed", alert,
                     "{\"by\":\"R. Okafor\",\"at\":1,\"outcome\":\"refer\"}");
        assert_int_equal(visit(attack, parcel), 200);
    }
    /* who edits a quarter of an hour later has the last word, whatever the liar's clock said */
    assert_true(site_clock(attack->box, "2026-03-02T09:15:00Z"));
    json_decref(site_ask(attack->box, "client set %s --needs 'large print'", client));
    json_t *shown = site_ask(attack->box, "client show %s", client);
    look_is(shown, "needs", "large print");
    json_decref(shown);
    static const char *const LOOKS[] = {"sync conflicts", "messages", "alerts --all", "status",
                                        "calls"};
    for (size_t i = 0; i < G_N_ELEMENTS(LOOKS); i++)
        json_decref(site_ask(attack->box, "%s", LOOKS[i]));
    assert_well(attack);
    attack_free(attack);
}

static void a_huge_epoch_does_not_end_the_clinics_say(void **state)
{
    static const char *const EPOCHS[] = {"9223372036854775807", "-5", "1099511627776", "\"many\""};
    Attack *attack = attack_new();
    Parcel *parcel = parcel_of(attack);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(EPOCHS); i++) {
        g_autofree char *body =
            g_strdup_printf("{\"replica\":\"%s\",\"epoch\":%s,\"by\":\"x\"}", ROGUE, EPOCHS[i]);
        rogue_writes(attack->rogue, parcel, MORNING + 1000, "sender.taken", "clinic", body);
    }
    assert_int_equal(visit(attack, parcel), 200);
    assert_true(site_clock(attack->box, "2026-03-02T09:01:00Z"));
    json_decref(site_ask(attack->box, "sender take --by 'R. Okafor'"));
    json_t *sender = site_ask(attack->box, "sender show");
    assert_true(json_is_true(json_object_get(sender, "here")));
    json_decref(sender);
    assert_well(attack);
    attack_free(attack);
}

/* The parcel's bytes once more, and once more after others. */
static void what_is_replayed_changes_nothing(void **state)
{
    Attack *attack = attack_new();
    Parcel *parcel = parcel_of(attack);

    (void)state;
    rogue_writes(attack->rogue, parcel, MORNING, "client.set", "ZZZZZZZZ",
                 "{\"fields\":{\"name\":\"First F.\"}}");
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    gsize length;
    const void *bytes = g_bytes_get_data(packed, &length);
    parcel_free(parcel);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(post(attack, attack->rogue, bytes, length), 200);
        assert_int_equal(replica_count(attack->box, "client list"), 1);
    }
    Parcel *next = parcel_of(attack);
    rogue_writes(attack->rogue, next, MORNING + 1, "client.set", "ZZZZZZZZ",
                 "{\"fields\":{\"name\":\"Second S.\"}}");
    assert_int_equal(visit(attack, next), 200);
    assert_int_equal(post(attack, attack->rogue, bytes, length), 200);
    json_t *shown = site_ask(attack->box, "client show ZZZZZZZZ");
    look_is(shown, "name", "Second S.");
    json_decref(shown);
    assert_well(attack);
    attack_free(attack);
}

/* Two stores write under one id, and neither is the one that visits: nothing of theirs is mixed, and all else goes on. */
static void a_fork_of_a_thirds_chain_stays_apart(void **state)
{
    Attack *attack = attack_new();
    Rogue *third = rogue_new(OTHER), *copy = rogue_new(OTHER);
    Parcel *first = parcel_of(attack), *second = parcel_of(attack);
    long status;

    (void)state;
    rogue_writes(third, first, MORNING, "client.set", "YYYYYYYY",
                 "{\"fields\":{\"name\":\"True T.\"}}");
    assert_int_equal(visit(attack, first), 200);
    rogue_writes(copy, second, MORNING, "client.set", "YYYYYYYY",
                 "{\"fields\":{\"name\":\"Copied C.\"}}");
    rogue_writes(attack->rogue, second, MORNING, "client.set", "ZZZZZZZZ",
                 "{\"fields\":{\"name\":\"Own O.\"}}");
    vector_add(second->vector, OTHER, copy->seq, copy->digest);
    g_autoptr(Parcel) answer = rogue_visits(attack->rogue, attack->port, second, &status);
    assert_int_equal(status, 200);
    assert_string_equal(answer->forked, OTHER);
    for (guint i = 0; i < answer->events->len; i++)
        assert_string_not_equal(((Event *)answer->events->pdata[i])->replica, OTHER);
    json_t *shown = site_ask(attack->box, "client show YYYYYYYY");
    look_is(shown, "name", "True T.");
    json_decref(shown);
    assert_int_equal(replica_count(attack->box, "client list"), 2);
    json_t *sync = site_ask(attack->box, "sync status");
    const char *problem = json_string_value(
        json_object_get(json_array_get(json_object_get(sync, "peers"), 0), "problem"));
    if (problem == NULL || strstr(problem, OTHER) == NULL) fail_msg("said: %s", problem);
    json_decref(sync);
    rogue_free(third);
    rogue_free(copy);
    assert_well(attack);
    attack_free(attack);
}

/* Bodies that lack fields, or have them of another sort. */
static void bodies_of_any_shape_are_taken_in(void **state)
{
    Attack *attack = attack_new();
    GRand *random = g_rand_new_with_seed(7);

    (void)state;
    for (int round = 0; round < 4; round++) {
        Parcel *parcel = parcel_of(attack);
        for (int i = 0; i < 150; i++) {
            const char *kind;
            g_autofree char *subject = NULL;
            g_autofree char *body = ledger_draw(random, &kind, &subject);
            bool takes_words = strcmp(kind, "client.erase") == 0 || strcmp(kind, "redacted") == 0;
            if (!takes_words) rogue_writes(attack->rogue, parcel, MORNING + i, kind, subject, body);
        }
        assert_int_equal(visit(attack, parcel), 200);
    }
    g_rand_free(random);
    assert_true(site_clock(attack->box, "2026-03-02T10:00:00Z"));
    assert_well(attack);
    attack_free(attack);
}

/* --- a host that lies to who visits it --- */

typedef struct {
    const char *laptop; /* id of who visits */
    int way;
    int asked;
} Lie;

enum { NO_PARCEL, MORE_AND_MORE, FORKED, FORKED_WITH_MARKS, CLAIMS_OURS, TAKES_NOTHING, WAYS };

static Parcel *lie(const Parcel *question, void *context)
{
    Lie *told = context;
    Parcel *parcel = parcel_new(ROGUE, MORNING);
    const uint8_t digest[DIGEST_BYTES] = {9};

    (void)question;
    if (++told->asked > 200) g_error("way %d: asked without end", told->way);
    switch (told->way) {
    case NO_PARCEL: parcel_free(parcel); return NULL;
    case MORE_AND_MORE: parcel->more = true; break;
    case FORKED: parcel->forked = g_strdup(told->laptop); break;
    case FORKED_WITH_MARKS:
        parcel->forked = g_strdup(told->laptop);
        for (int seq = 100; seq < 104; seq++)
            vector_add(parcel->marks, told->laptop, seq, digest);
        break;
    case CLAIMS_OURS: claim(parcel, told->laptop, 1000000); break;
    default: break;
    }
    return parcel;
}

static void a_host_that_lies_gets_a_laptop_nowhere(void **state)
{
    Site *laptop = replica_new("laptop", 12, 0);
    Rogue *rogue = rogue_new(ROGUE);

    (void)state;
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    g_autofree char *id = replica_id(laptop);
    Lie told = {.laptop = id};
    RogueHost *host = rogue_host_new(rogue, lie, &told);
    g_autofree char *code = rogue_host_code(host);
    told.way = MORE_AND_MORE;
    json_decref(site_ask(laptop, "sync pair %s --with 127.0.0.1:%d", code, rogue_host_port(host)));
    g_autofree char *client = replica_client(laptop, "Ada N.", 1);
    for (int way = 0; way < WAYS; way++) {
        g_autofree char *out = NULL;
        g_autofree char *err = NULL;
        told.way = way;
        told.asked = 0;
        int ended = site_osier(laptop, &out, &err, "sync now");
        if (ended != 75 || strchr(err, '\n') == NULL) fail_msg("way %d: %d: %s", way, ended, err);
        g_autofree char *after = replica_id(laptop);
        assert_string_equal(after, id);
    }
    assert_int_equal(replica_count(laptop, "client list"), 1);
    site_free(laptop);
    rogue_host_free(host);
    rogue_free(rogue);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strangers_and_the_unpaired_see_empty_404s),
        cmocka_unit_test(a_peer_that_sends_garbage_is_refused),
        cmocka_unit_test(a_lie_about_what_a_peer_has_changes_nothing),
        cmocka_unit_test(a_peer_cannot_take_anothers_name),
        cmocka_unit_test(events_with_impossible_stamps_are_bounded),
        cmocka_unit_test(a_huge_epoch_does_not_end_the_clinics_say),
        cmocka_unit_test(what_is_replayed_changes_nothing),
        cmocka_unit_test(a_fork_of_a_thirds_chain_stays_apart),
        cmocka_unit_test(bodies_of_any_shape_are_taken_in),
        cmocka_unit_test(a_host_that_lies_gets_a_laptop_nowhere),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
