/* SPDX-License-Identifier: Apache-2.0 */
/* A new replica that takes a snapshot has what one that replayed every event has: whatever was written, erased, joined or bounded
 * before, and whatever is written on either side meanwhile. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>

#include "adapters/store/snapshot_file.h"
#include "tests/support/ledger_rebuild.h"
#include "tests/support/snapshot_world.h"

#define HISTORIES 200

/* Three that work, and a fourth that is new and has entered a little. */
static void live(SnapshotWorld *world)
{
    if (snapshot_draw(world, 4) == 0)
        world->ahead[1] = snapshot_draw(world, 2) == 0 ? SNAPSHOT_DAY : -SNAPSHOT_DAY;
    for (int step = 0; step < 14; step++) {
        int at = snapshot_draw(world, SNAPSHOT_FRESH), other = snapshot_draw(world, SNAPSHOT_FRESH);

        world->now += snapshot_draw(world, 3) * 60000;
        snapshot_run(world, at, snapshot_write, world);
        if (other != at && snapshot_draw(world, 2) == 0) snapshot_carry(world, at, other);
    }
    if (snapshot_draw(world, 2) == 0) snapshot_run(world, SNAPSHOT_FRESH, snapshot_write, world);
    if (snapshot_draw(world, 2) == 0) snapshot_carry(world, 0, SNAPSHOT_FRESH);
}

/* What goes on while a snapshot is on its way. */
static void meanwhile(SnapshotWorld *world)
{
    if (snapshot_draw(world, 2) == 0) snapshot_run(world, SNAPSHOT_FRESH, snapshot_write, world);
    if (snapshot_draw(world, 2) == 0) snapshot_run(world, 1, snapshot_write, world);
    if (snapshot_draw(world, 2) == 0) snapshot_carry(world, 1, SNAPSHOT_FRESH);
}

static bool play(guint32 seed, const char *folder)
{
    SnapshotWorld *world = snapshot_world_new(seed, folder);

    live(world);
    snapshot_carry(world, SNAPSHOT_FRESH, 0);
    snapshot_make_of(world, 0);
    meanwhile(world);
    const char *why = snapshot_take_at(world, SNAPSHOT_FRESH);
    g_autofree char *dump = snapshot_dump(world, SNAPSHOT_FRESH), *again = NULL,
                    *sorted = ledger_sorted(dump);
    snapshot_run(world, SNAPSHOT_FRESH, snapshot_rebuild_job, &again);
    snapshot_must_be_equal(world, "right after, tables and a rebuild", sorted, again);
    snapshot_heal(world);
    snapshot_must_agree(world);
    snapshot_world_free(world);
    /* a clock that is a day ahead is seen to by bounds where entries come one by one */
    if (why != NULL && strstr(why, "a time to come") == NULL) fail_msg("seed %u: %s", seed, why);
    return why == NULL;
}

static void it_gives_what_replay_gives(void **state)
{
    g_autofree char *folder = bench_folder();
    int taken = 0;

    (void)state;
    print_message("seeds 1 to %d\n", HISTORIES);
    for (guint32 seed = 1; seed <= HISTORIES; seed++)
        taken += play(seed, folder);
    print_message("%d of them took it\n", taken);
    assert_true(taken > HISTORIES / 2);
    bench_remove(folder);
}

/* --- words that were erased --- */

static bool write_words(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "client.set", "K7QFAAAA", "R. Okafor", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Marigold Planted"));
    return true;
}

static bool write_erasure(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "client.erase", "K7QFAAAA", "R. Okafor", NULL,
              json_pack("{s:I,s:s,s:s,s:[],s:[]}", "at", (json_int_t)BENCH_MORNING, "by",
                        "R. Okafor", "why", "asked", "also", "numbers"));
    return true;
}

static bool has_words(Tx *tx, void *context)
{
    g_autofree char *dump = tx_dump(tx);
    bool *found = context;

    *found = strstr(dump, "Marigold") != NULL;
    return true;
}

/* The erasure is known here, and the snapshot was made before it. */
static void an_older_one_brings_no_erased_words_back(void **state)
{
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_written(folder);
    bool found = true;

    (void)state;
    snapshot_run(world, 0, write_words, NULL);
    snapshot_make_of(world, 0);
    snapshot_carry(world, 0, 1);
    snapshot_run(world, 1, write_erasure, NULL);
    snapshot_carry(world, 1, SNAPSHOT_FRESH);
    assert_null(snapshot_take_at(world, SNAPSHOT_FRESH));
    snapshot_run(world, SNAPSHOT_FRESH, has_words, &found);
    assert_false(found);
    snapshot_heal(world);
    snapshot_must_agree(world);
    snapshot_world_free(world);
    bench_remove(folder);
}

static bool write_reply(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "reply.received", "R-9", "client", NULL,
              json_pack("{s:s,s:s,s:I,s:I}", "from", "+442079460001", "text", "Marigold did them",
                        "at", (json_int_t)BENCH_MORNING, "arrived", (json_int_t)BENCH_MORNING));
    tx_append(tx, "reply.read", "R-9", "osier", NULL,
              json_pack("{s:s,s:s}", "client", "K7QFAAAA", "state", "read"));
    return true;
}

/* Who erased did not know of a reply, and is never met again: whoever knows of the erasure takes the words from it. */
static void a_reply_of_one_erased_here_loses_its_words(void **state)
{
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_written(folder);
    bool found = true;

    (void)state;
    snapshot_run(world, 0, write_words, NULL);
    snapshot_carry(world, 0, 1);
    snapshot_run(world, 1, write_erasure, NULL);
    snapshot_carry(world, 1, SNAPSHOT_FRESH);
    snapshot_run(world, 0, write_reply, NULL);
    snapshot_make_of(world, 0);
    assert_null(snapshot_take_at(world, SNAPSHOT_FRESH));
    snapshot_run(world, SNAPSHOT_FRESH, has_words, &found);
    assert_false(found);
    snapshot_carry(world, SNAPSHOT_FRESH, 0);
    snapshot_run(world, 0, has_words, &found);
    assert_false(found);
    snapshot_heal(world);
    snapshot_must_agree(world);
    snapshot_world_free(world);
    bench_remove(folder);
}

static void those_who_were_erased_are_told_of(void **state)
{
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_written(folder);
    const char *why = NULL;

    (void)state;
    snapshot_run(world, 0, write_words, NULL);
    snapshot_run(world, 0, write_erasure, NULL);
    snapshot_make_of(world, 0);
    g_autoptr(SnapshotLook) look = snapshot_look_over(world->file, world->now, &why);
    SnapshotTaking taken = {.world = world, .look = look};
    assert_int_equal(snapshot_run(world, SNAPSHOT_FRESH, snapshot_take_job, &taken), STORE_OK);
    assert_true(taken.heard >= 1);
    snapshot_world_free(world);
    bench_remove(folder);
}

/* --- which tables --- */

static int note_name(void *set, int columns, char **text, char **names)
{
    (void)columns;
    (void)names;
    g_hash_table_add(set, g_strdup(text[0]));
    return 0;
}

/* A table that is added is either made from the ledger, and travels, or is named here as one that never does. */
static void each_table_travels_or_is_known_to_stay(void **state)
{
    static const char *const STAY[] = {"outbox",  "due",     "card", "cursor", "code", "wrong_code",
                                       "receipt", "account", "look", "peer",   "meta", NULL};
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_written(folder);
    g_autoptr(GHashTable) known = g_hash_table_new(g_str_hash, g_str_equal);
    g_autoptr(GHashTable) there = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    sqlite3 *db = NULL;

    (void)state;
    g_hash_table_add(known, (void *)"event");
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        bool stays = g_strv_contains(STAY, table_of(id)->name);
        if (snapshot_has_table(id) == stays) fail_msg("%s: travels?", table_of(id)->name);
        g_hash_table_add(known, (void *)table_of(id)->name);
    }
    snapshot_make_of(world, 0);
    assert_int_equal(sqlite3_open(world->copy, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "SELECT name FROM sqlite_master WHERE type = 'table'",
                                  note_name, there, NULL),
                     SQLITE_OK);
    sqlite3_close(db);
    assert_int_equal(g_hash_table_size(there), g_hash_table_size(known));
    snapshot_world_free(world);
    bench_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_gives_what_replay_gives),
        cmocka_unit_test(an_older_one_brings_no_erased_words_back),
        cmocka_unit_test(a_reply_of_one_erased_here_loses_its_words),
        cmocka_unit_test(those_who_were_erased_are_told_of),
        cmocka_unit_test(each_table_travels_or_is_known_to_stay),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
