/* SPDX-License-Identifier: Apache-2.0 */
/* Somebody was erased: copies that are not sealed give way to one without the words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "adapters/store/store_memory.h"
#include "daemon/keep/keep.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

#define OLD "osier-20260301T030000Z.db"
#define FIRST "osier-20260302T080000Z.db"
#define SECOND "osier-20260302T080001Z.db"

typedef struct {
    char *folder;
    Settings *settings;
    Clock *clock;
    Random *random;
    Store *store;
    Desk *desk;
    Keep *keep;
    int made, failed;
} World;

static int world_open(void **state)
{
    World *world = g_new0(World, 1);
    g_autofree char *text = settings_plain("Alder Row", "", "");
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    int64_t start_ms;

    assert_true(instant_parse("2026-03-02T08:00:00Z", &start_ms));
    world->folder = folder_new();
    folder_write(world->folder, "clinic.yaml", text, -1, 0600);
    folder_room(world->folder, "backups");
    folder_write(world->folder, "backups/" OLD, "words", -1, 0600);
    world->settings = settings_load(world->folder, messages);
    assert_non_null(world->settings);
    world->clock = clock_stepped_new(start_ms);
    world->random = random_seeded_new(1);
    world->store = store_memory_new("AAAAAAAAAAAAAAAA", start_ms);
    world->desk = desk_new(world->store, world->clock, world->random, world->settings);
    world->keep = keep_new(world->desk, world->folder, uv_default_loop());
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    keep_free(world->keep);
    desk_free(world->desk);
    world->store->close(world->store);
    random_free(world->random);
    clock_free(world->clock);
    settings_unref(world->settings);
    folder_remove(world->folder);
    g_free(world);
    return 0;
}

static void settle(World *world)
{
    while (store_memory_pump(world->store) > 0)
        continue;
}

static bool is_there(const World *world, const char *name)
{
    g_autofree char *path = g_build_filename(world->folder, "backups", name, NULL);

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

    keep_renew(world->keep);
    assert_true(is_there(world, OLD));
    settle(world);
    assert_false(is_there(world, OLD));
    assert_true(is_there(world, FIRST));
}

/* The first copy may hold the words of who was erased while it was made. */
static void who_is_erased_meanwhile_leaves_that_copy_too(void **state)
{
    World *world = *state;

    keep_renew(world->keep);
    keep_renew(world->keep);
    keep_renew(world->keep);
    settle(world);
    assert_false(is_there(world, OLD));
    assert_false(is_there(world, FIRST));
    assert_true(is_there(world, SECOND));
}

/* Both are ordered before either has a file. */
static void a_copy_that_is_asked_for_in_that_second_is_another(void **state)
{
    World *world = *state;

    keep_copy(world->keep, on_made, world);
    keep_renew(world->keep);
    keep_copy(world->keep, on_made, world);
    settle(world);
    assert_int_equal(world->made, 2);
    assert_int_equal(world->failed, 0);
    assert_false(is_there(world, OLD));
    assert_true(is_there(world, FIRST));
    assert_true(is_there(world, SECOND));
}

static void where_none_is_kept_none_is_made(void **state)
{
    World *world = *state;
    g_autofree char *old = g_build_filename(world->folder, "backups", OLD, NULL);

    assert_int_equal(g_unlink(old), 0);
    keep_renew(world->keep);
    settle(world);
    assert_false(is_there(world, FIRST));
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
        cmocka_unit_test_setup_teardown(where_none_is_kept_none_is_made, world_open, world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
