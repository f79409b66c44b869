/* SPDX-License-Identifier: Apache-2.0 */
/* Somebody was erased: copies that are not sealed give way to one without the words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "daemon/keep/keep.h"
#include "tests/support/folder.h"
#include "tests/support/twin_desk.h"

#define OLD "osier-20260301T030000Z.db"
#define FIRST "osier-20260302T080000Z.db"
#define SECOND "osier-20260302T080001Z.db"

typedef struct {
    TwinDesk twin;
    Keep *keep;
    int made, failed;
} World;

static int world_open(void **state)
{
    World *world = g_new0(World, 1);

    twin_desk_open(&world->twin, NULL);
    folder_room(world->twin.folder, "backups");
    folder_write(world->twin.folder, "backups/" OLD, "words", -1, 0600);
    world->keep = keep_new(world->twin.desk, world->twin.folder, uv_default_loop());
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    keep_free(world->keep);
    twin_desk_close(&world->twin);
    g_free(world);
    return 0;
}

static bool erase_job(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "client.erase", "C1", "R. Okafor", NULL,
              json_pack("{s:I}", "at", (json_int_t)job->now_ms));
    return true;
}

static void erase(World *world)
{
    desk_submit(world->twin.desk, erase_job, NULL, NULL);
    twin_desk_settle(&world->twin);
}

/* osierd ends, and is there again. */
static void restart(World *world)
{
    keep_free(world->keep);
    world->keep = keep_new(world->twin.desk, world->twin.folder, uv_default_loop());
    keep_renew(world->keep);
}

static bool is_there(const World *world, const char *name)
{
    g_autofree char *path = g_build_filename(world->twin.folder, "backups", name, NULL);

    return g_file_test(path, G_FILE_TEST_EXISTS);
}

static void on_made(const char *file, const char *problem, void *context)
{
    World *world = context;

    world->made += file != NULL;
    world->failed += problem != NULL;
}

static void old_copies_go_once_a_new_one_is_there(void **state)
{
    World *world = *state;

    erase(world);
    keep_renew(world->keep);
    assert_true(is_there(world, OLD));
    twin_desk_settle(&world->twin);
    assert_false(is_there(world, OLD));
    assert_true(is_there(world, FIRST));
}

/* The first copy may hold the words of who was erased while it was made. */
static void who_is_erased_meanwhile_leaves_that_copy_too(void **state)
{
    World *world = *state;

    erase(world);
    keep_renew(world->keep);
    keep_renew(world->keep);
    keep_renew(world->keep);
    twin_desk_settle(&world->twin);
    assert_false(is_there(world, OLD));
    assert_false(is_there(world, FIRST));
    assert_true(is_there(world, SECOND));
}

/* Both are ordered before either has a file. */
static void a_copy_that_is_asked_for_in_that_second_is_another(void **state)
{
    World *world = *state;

    erase(world);
    keep_copy(world->keep, on_made, world);
    keep_renew(world->keep);
    keep_copy(world->keep, on_made, world);
    twin_desk_settle(&world->twin);
    assert_int_equal(world->made, 2);
    assert_int_equal(world->failed, 0);
    assert_false(is_there(world, OLD));
    assert_true(is_there(world, FIRST));
    assert_true(is_there(world, SECOND));
}

static void where_none_is_kept_none_is_made(void **state)
{
    World *world = *state;
    g_autofree char *old = g_build_filename(world->twin.folder, "backups", OLD, NULL);

    assert_int_equal(g_unlink(old), 0);
    erase(world);
    keep_renew(world->keep);
    twin_desk_settle(&world->twin);
    assert_false(is_there(world, FIRST));
}

static void a_stop_between_is_made_good_at_the_next_start(void **state)
{
    World *world = *state;

    erase(world);
    keep_stop(world->keep);
    keep_renew(world->keep);
    twin_desk_settle(&world->twin);
    assert_true(is_there(world, OLD));
    restart(world);
    twin_desk_settle(&world->twin);
    assert_false(is_there(world, OLD));
    assert_true(is_there(world, FIRST));
}

static void a_start_renews_nothing_that_is_done(void **state)
{
    World *world = *state;

    restart(world);
    twin_desk_settle(&world->twin);
    assert_true(is_there(world, OLD));
    erase(world);
    for (int i = 0; i < 3; i++) {
        restart(world);
        twin_desk_settle(&world->twin);
    }
    assert_true(is_there(world, FIRST));
    assert_false(is_there(world, SECOND));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(old_copies_go_once_a_new_one_is_there, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(who_is_erased_meanwhile_leaves_that_copy_too, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(a_copy_that_is_asked_for_in_that_second_is_another,
                                        world_open, world_close),
        cmocka_unit_test_setup_teardown(a_stop_between_is_made_good_at_the_next_start, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(a_start_renews_nothing_that_is_done, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(where_none_is_kept_none_is_made, world_open, world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
