/* SPDX-License-Identifier: Apache-2.0 */
/* What the desk tells after a job: whose messages must pass the gate again, and what is to be done next. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/find_work.h"
#include "adapters/store/store_memory.h"
#include "tests/support/twin_desk.h"

#define ONE "K7QF2M9T"
#define OTHER "M3XW8D5R"

typedef struct {
    TwinDesk twin;
    GHashTable *barred; /* set of ids, of the last job */
    int64_t due_ms;     /* what is due next, of the last job */
    bool sender;        /* the same */
} World;

static void note(const DeskNext *next, void *context)
{
    World *world = context;

    world->due_ms = next->due_ms;
    world->sender = next->sender;
    g_hash_table_remove_all(world->barred);
    for (guint i = 0; next->barred != NULL && i < next->barred->len; i++)
        g_hash_table_add(world->barred, g_strdup(next->barred->pdata[i]));
}

static int world_open(void **state)
{
    World *world = g_new0(World, 1);

    twin_desk_open(&world->twin, NULL);
    world->barred = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    desk_watch(world->twin.desk, note, NULL, world);
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    g_hash_table_unref(world->barred);
    twin_desk_close(&world->twin);
    g_free(world);
    return 0;
}

static void run(World *world, JobRun *job)
{
    desk_submit(world->twin.desk, job, NULL, NULL);
    twin_desk_settle(&world->twin);
}

static bool enrol(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "client.set", ONE, "test", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Ada N."));
    tx_append(job->tx, "client.set", OTHER, "test", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Ada N."));
    return true;
}

static bool unite(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "client.same_as", OTHER, "test", NULL, json_pack("{s:s}", "of", ONE));
    return true;
}

/* As it comes from a replica that knows of no other id yet. */
static bool stop(Job *job, void *context)
{
    const char *kept_as = tx_one(job->tx, ONE);

    (void)context;
    tx_append(job->tx, "client.stop", strcmp(kept_as, ONE) == 0 ? OTHER : ONE, "test", NULL,
              json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", "asked for it",
                        "by", "R. Okafor"));
    return true;
}

static bool look(Job *job, void *context)
{
    (void)job;
    (void)context;
    return true;
}

/* Messages are kept under one of the ids that a client has, whichever the STOP names. */
static void a_stop_under_another_id_of_the_client_recalls(void **state)
{
    World *world = *state;

    run(world, enrol);
    run(world, unite);
    run(world, look);
    assert_int_equal(g_hash_table_size(world->barred), 0);
    run(world, stop);
    assert_true(g_hash_table_contains(world->barred, ONE));
    assert_true(g_hash_table_contains(world->barred, OTHER));
}

static bool due_at_seven(Job *job, void *context)
{
    (void)context;
    due_set(job->tx, "keep", "", 7, NULL, NULL);
    return true;
}

static bool nothing_due(Job *job, void *context)
{
    (void)context;
    due_drop(job->tx, "keep", "");
    return true;
}

/* It finds out in its midst that it must not. */
static bool due_at_three_undone(Job *job, void *context)
{
    (void)context;
    due_set(job->tx, "keep", "", 3, NULL, NULL);
    return false;
}

static bool all_due_at_five(Job *job, void *context)
{
    (void)context;
    tx_change(job->tx, "UPDATE due SET at = ?1", "i", INT64_C(5));
    return true;
}

static bool pass_the_duty_on(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "sender.taken", "clinic", "test", NULL,
              json_pack("{s:s, s:i}", "replica", "00000000000000ff", "epoch", 1));
    return true;
}

static void what_is_due_next_is_told_after_each_job(void **state)
{
    World *world = *state;

    run(world, look);
    assert_true(world->due_ms == INT64_MAX);
    run(world, due_at_seven);
    assert_int_equal(world->due_ms, 7);
    run(world, look);
    assert_int_equal(world->due_ms, 7);
    run(world, all_due_at_five);
    assert_int_equal(world->due_ms, 5);
    run(world, nothing_due);
    assert_true(world->due_ms == INT64_MAX);
    run(world, look);
    assert_true(world->due_ms == INT64_MAX);
}

static void what_an_undone_job_made_due_is_not_told(void **state)
{
    World *world = *state;

    run(world, due_at_seven);
    run(world, due_at_three_undone);
    run(world, look);
    assert_int_equal(world->due_ms, 7);
}

/* The database goes away before the job, in its midst, or with its commit. */
static void what_was_not_kept_is_not_told(void **state)
{
    World *world = *state;
    bool struck = true;

    run(world, due_at_seven);
    for (int n = 1; struck; n++) {
        store_memory_lose(world->twin.store, n);
        desk_submit(world->twin.desk, nothing_due, NULL, NULL);
        store_memory_pump(world->twin.store);
        struck = store_memory_has_lost(world->twin.store);
        store_memory_lose(world->twin.store, 0);
        run(world, look);
        assert_true(world->due_ms == (struck ? 7 : INT64_MAX));
    }
}

static void where_another_replica_sends_nothing_is_due(void **state)
{
    World *world = *state;

    run(world, due_at_seven);
    assert_true(world->sender);
    run(world, pass_the_duty_on);
    assert_false(world->sender);
    assert_true(world->due_ms == INT64_MAX);
    run(world, look);
    assert_false(world->sender);
    assert_true(world->due_ms == INT64_MAX);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_stop_under_another_id_of_the_client_recalls, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(what_is_due_next_is_told_after_each_job, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(what_an_undone_job_made_due_is_not_told, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(what_was_not_kept_is_not_told, world_open, world_close),
        cmocka_unit_test_setup_teardown(where_another_replica_sends_nothing_is_due, world_open,
                                        world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
