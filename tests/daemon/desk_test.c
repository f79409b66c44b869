/* SPDX-License-Identifier: Apache-2.0 */
/* What the desk tells after a job: whose messages must pass the gate again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/store_memory.h"
#include "daemon/desk/desk.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

#define ONE "K7QF2M9T"
#define OTHER "M3XW8D5R"

typedef struct {
    char *folder;
    Settings *settings;
    Clock *clock;
    Random *random;
    Store *store;
    Desk *desk;
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
    g_autofree char *text = settings_plain("Alder Row", "", "");
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    int64_t start_ms;

    assert_true(instant_parse("2026-03-02T08:00:00Z", &start_ms));
    world->folder = folder_new();
    folder_write(world->folder, "clinic.yaml", text, -1, 0600);
    world->settings = settings_load(world->folder, messages);
    assert_non_null(world->settings);
    world->clock = clock_stepped_new(start_ms);
    world->random = random_seeded_new(1);
    world->store = store_memory_new("AAAAAAAAAAAAAAAA", start_ms);
    world->desk = desk_new(world->store, world->clock, world->random, world->settings);
    world->barred = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    desk_watch(world->desk, note, NULL, world);
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    desk_free(world->desk);
    world->store->close(world->store);
    random_free(world->random);
    clock_free(world->clock);
    settings_unref(world->settings);
    g_hash_table_unref(world->barred);
    folder_remove(world->folder);
    g_free(world);
    return 0;
}

static void run(World *world, JobRun *job)
{
    desk_submit(world->desk, job, NULL, NULL);
    while (store_memory_pump(world->store) > 0)
        continue;
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
