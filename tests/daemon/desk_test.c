/* SPDX-License-Identifier: Apache-2.0 */
/* What the desk tells after a job: whose messages must pass the gate again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/twin_desk.h"

#define ONE "K7QF2M9T"
#define OTHER "M3XW8D5R"

typedef struct {
    TwinDesk twin;
    GHashTable *barred; /* set of ids, of the last job */
} World;

static void note(const DeskNext *next, void *context)
{
    World *world = context;

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_stop_under_another_id_of_the_client_recalls, world_open,
                                        world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
