/* SPDX-License-Identifier: Apache-2.0 */
/* A new replica takes a snapshot from a peer that has very much; whatever the peer gives, it ends with what the entries give. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/lending_peer.h"
#include "tests/support/replicas.h"

#define LATER "2026-03-02T09:20:00Z"

/* --- a laptop that is new --- */

static void pair(Site *laptop, LendingPeer *peer)
{
    g_autofree char *code = rogue_host_code(peer->host);

    json_decref(
        site_ask(laptop, "sync pair %s --with 127.0.0.1:%d", code, rogue_host_port(peer->host)));
}

static Site *laptop_new(LendingPeer *peer)
{
    Site *laptop = replica_new("laptop", 12, 0);

    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    pair(laptop, peer);
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

    assert_true(json_integer_value(json_object_get(status, "entries")) > LENDING_ENTRIES);
    json_decref(status);
    assert_int_equal(replica_count(site, "client list"), LENDING_CLIENTS);
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

/* A copy of an earlier night, which may hold words of whoever the peer has erased since. */
static char *copy_of_last_night(const Site *site)
{
    g_autofree char *folder = g_build_filename(site->clinic, "backups", NULL);
    char *file = g_build_filename(folder, "osier-20260301T020000Z.db", NULL);

    g_mkdir(folder, 0700);
    assert_true(g_file_set_contents(file, "a copy", -1, NULL));
    return file;
}

static void it_is_taken_and_looked_over(void **state)
{
    LendingPeer *peer = lending_peer_new(LENDS_HONEST, false);
    Site *laptop = laptop_new(peer);

    (void)state;
    g_autofree char *entered = replica_client(laptop, "Bo T.", 2);
    g_autofree char *copy = copy_of_last_night(laptop);
    replica_visit(laptop);
    assert_true(site_clock(laptop, LATER));
    g_autofree char *proved = state_of(laptop), *told = site_told(laptop, "sync status");
    assert_string_equal(proved, "proved");
    assert_non_null(strstr(told, "came as a snapshot from"));
    assert_int_equal(replica_count(laptop, "client list"), LENDING_CLIENTS + 1);
    assert_true(g_atomic_int_get(&peer->begun) >= 1);
    /* who was erased before is on this folder's list too */
    g_autofree char *list = g_build_filename(laptop->clinic, "erased.jsonl", NULL), *lines = NULL;
    assert_true(g_file_get_contents(list, &lines, NULL, NULL));
    assert_non_null(strstr(lines, LENDING_ERASED));
    assert_false(g_file_test(copy, G_FILE_TEST_EXISTS));
    must_be_tidy(laptop);
    must_be_sound(laptop);
    site_free(laptop);
    lending_peer_free(peer);
}

/* What stands where the copy would be made keeps the tables from being looked over. */
static void until_it_was_looked_over_nothing_is_sent(void **state)
{
    LendingPeer *peer = lending_peer_new(LENDS_HONEST, false);
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
    lending_peer_free(peer);
}

/* A second one would count as looked over once the first is. */
static void until_it_was_looked_over_no_other_is_taken(void **state)
{
    LendingPeer *peers[2];

    (void)state;
    lending_peers_new(peers);
    Site *laptop = laptop_new(peers[0]);
    pair(laptop, peers[1]);
    g_autofree char *there = g_build_filename(laptop->clinic, ".snapshot-proof", NULL);
    assert_int_equal(g_mkdir(there, 0700), 0);
    for (int i = 0; i < 3; i++)
        site_osier(laptop, NULL, NULL, "sync now");
    must_have_all(laptop);
    g_autofree char *open = state_of(laptop);
    assert_string_equal(open, "unproved");
    assert_int_equal(g_atomic_int_get(&peers[0]->ended) + g_atomic_int_get(&peers[1]->ended), 1);
    assert_int_equal(g_rmdir(there), 0);
    must_be_sound(laptop);
    site_free(laptop);
    lending_peer_free(peers[0]);
    lending_peer_free(peers[1]);
}

/* Killed in the midst, it begins anew, and nothing is left of before. */
static void who_is_killed_in_the_midst_begins_anew(void **state)
{
    LendingPeer *peer = lending_peer_new(LENDS_CUT_ONCE, false);
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
    lending_peer_free(peer);
}

static void a_cut_line_costs_one_piece(void **state)
{
    LendingPeer *peer = lending_peer_new(LENDS_CUT_ONCE, false);
    Site *laptop = replica_new("laptop", 12, 0);

    (void)state;
    assert_true(peer->length > LENDING_PIECE);
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
    lending_peer_free(peer);
}

/* What a liar gives is refused whole, and the entries come one by one. */
static void what_does_not_hold_is_refused(void **state)
{
    static const LendingManner MANNERS[] = {LENDS_TORN, LENDS_GARBAGE, LENDS_ENDLESS,
                                            LENDS_LIES_OF_SIZE};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MANNERS); i++) {
        LendingPeer *peer = lending_peer_new(MANNERS[i], false);
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
        lending_peer_free(peer);
    }
}

static void tables_that_the_entries_do_not_give_are_made_anew(void **state)
{
    LendingPeer *peer = lending_peer_new(LENDS_HONEST, true);
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
    lending_peer_free(peer);
}

/* --- both are real --- */

static void write_one(Rogue *rogue, Parcel *parcel, int i)
{
    g_autofree char *client = g_strdup_printf("AAAAAA%02d", i % LENDING_CLIENTS);
    g_autofree char *report =
        g_strdup_printf("{\"at\":%" G_GINT64_FORMAT ",\"done\":\"yes\",\"session\":\"%032x\"}",
                        LENDING_MORNING + i, i / 3);

    if (i < LENDING_CLIENTS)
        rogue_writes(rogue, parcel, LENDING_MORNING + i, "client.set", client,
                     "{\"fields\":{\"name\":\"Ada T.\"}}");
    else
        rogue_writes(rogue, parcel, LENDING_MORNING + i, "report.made", client, report);
}

static void fill(Rogue *rogue, int port)
{
    for (int i = 0; i < LENDING_ENTRIES;) {
        Parcel *parcel = parcel_new(rogue->replica, LENDING_MORNING);
        long status;
        for (; i < LENDING_ENTRIES && parcel->events->len < PARCEL_EVENTS_MAX; i++)
            write_one(rogue, parcel, i);
        parcel_free(rogue_visits(rogue, port, parcel, &status));
        assert_int_equal(status, 200);
    }
}

static long asks(const Rogue *rogue, int port, json_t *question, GString *heard)
{
    char *text = json_dumps(question, 0);
    g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));

    free(text);
    json_decref(question);
    g_string_truncate(heard, 0);
    return rogue_asks(rogue, port, "POST", "/snapshot", bytes, false, heard);
}

/* Pieces that begin before the file or after its end. */
static void must_give_only_pieces(const Rogue *rogue, int port, GString *heard)
{
    static const json_int_t BEYOND[] = {INT64_MIN, -1, INT64_C(1) << 40, INT64_MAX};
    uint8_t shape[HASH_BYTES];
    char hex[2 * HASH_BYTES + 1];

    snapshot_shape(shape);
    for (int i = 0; i < HASH_BYTES; i++)
        g_snprintf(hex + 2 * i, 3, "%02x", shape[i]);
    assert_int_equal(asks(rogue, port, json_pack("{s:s}", "shape", hex), heard), 200);
    json_t *promised = json_loads(strchr(heard->str, '{'), JSON_DISABLE_EOF_CHECK, NULL);
    const char *id = json_string_value(json_object_get(promised, "id"));
    for (size_t i = 0; i < G_N_ELEMENTS(BEYOND); i++)
        assert_int_equal(
            asks(rogue, port, json_pack("{s:s, s:I}", "id", id, "from", BEYOND[i]), heard), 410);
    assert_int_equal(asks(rogue, port, json_pack("{s:s, s:i}", "id", id, "from", 0), heard), 200);
    assert_int_equal(asks(rogue, port, json_pack("{s:s, s:b}", "id", id, "end", 1), heard), 200);
    json_decref(promised);
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
    assert_true(site_clock(box, LATER));
    must_give_only_pieces(rogue, port, heard);
    replicas_end(box, laptop);
    rogue_free(rogue);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_taken_and_looked_over),
        cmocka_unit_test(until_it_was_looked_over_nothing_is_sent),
        cmocka_unit_test(until_it_was_looked_over_no_other_is_taken),
        cmocka_unit_test(who_is_killed_in_the_midst_begins_anew),
        cmocka_unit_test(a_cut_line_costs_one_piece),
        cmocka_unit_test(what_does_not_hold_is_refused),
        cmocka_unit_test(tables_that_the_entries_do_not_give_are_made_anew),
        cmocka_unit_test(a_box_gives_one_to_each_laptop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
