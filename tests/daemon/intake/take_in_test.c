/* SPDX-License-Identifier: Apache-2.0 */
/* What came in is stored first and then read: by one job after the other, none of which holds up those that store for long. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find_record.h"
#include "adapters/store/store_memory.h"
#include "daemon/intake/take_in.h"
#include "tests/support/twin_desk.h"

typedef struct {
    TwinDesk twin;
    int told;  /* messages, so far */
    int taken; /* calls back */
} World;

static int world_open(void **state)
{
    World *world = g_new0(World, 1);

    twin_desk_open(&world->twin, NULL);
    twin_desk_settle(&world->twin);
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    twin_desk_settle(&world->twin);
    twin_desk_close(&world->twin);
    g_free(world);
    return 0;
}

static void taken(StoreStatus status, int fresh, void *context)
{
    (void)fresh;
    assert_int_equal(status, STORE_OK);
    ((World *)context)->taken++;
}

/* So many at once, from a stranger. */
static void tell(World *world, int count)
{
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);

    for (int i = 0; i < count; i++) {
        Incoming *incoming = g_new0(Incoming, 1);
        *incoming = (Incoming){.id = g_strdup_printf("in-%d", world->told++),
                               .from = g_strdup("+442079460001"),
                               .text = g_strdup("thanks"),
                               .at_ms = -1};
        g_ptr_array_add(items, incoming);
    }
    take_in(world->twin.desk, &(Taking){.gateway = "texts", .channel = CHANNEL_SMS, .items = items},
            taken, world);
}

static bool count_unread(Tx *tx, void *context)
{
    g_autoptr(GPtrArray) unread = find_received(tx, 10000);

    *(int *)context = (int)unread->len;
    return true;
}

static int unread(World *world)
{
    int count = -1;

    store_memory_look(world->twin.store, count_unread, &count);
    return count;
}

static int pending(World *world)
{
    return world->twin.store->pending(world->twin.store);
}

static void many_at_once_are_read_by_one_job(void **state)
{
    World *world = *state;

    for (int i = 0; i < 5; i++)
        tell(world, 1);
    store_memory_pump(world->twin.store);
    assert_int_equal(world->taken, 5);
    assert_int_equal(unread(world), 5);
    assert_int_equal(pending(world), 1);
    store_memory_pump(world->twin.store);
    assert_int_equal(unread(world), 0);
    assert_int_equal(pending(world), 0);
}

static void what_comes_while_others_are_read_is_read_too(void **state)
{
    World *world = *state;

    tell(world, 1);
    store_memory_pump(world->twin.store);
    tell(world, 1);
    store_memory_pump(world->twin.store);
    assert_int_equal(world->taken, 2);
    assert_int_equal(unread(world), 1);
    store_memory_pump(world->twin.store);
    assert_int_equal(unread(world), 0);
}

/* Read page by page: a program that waits for its acknowledgement waits for one of them. */
static void few_are_read_while_others_are_to_be_stored(void **state)
{
    World *world = *state;

    tell(world, 60);
    tell(world, 1);
    store_memory_pump(world->twin.store);
    store_memory_pump(world->twin.store);
    assert_in_range(unread(world), 31, 60);
    twin_desk_settle(&world->twin);
    assert_int_equal(unread(world), 0);
}

static void none_lies_unread_behind_too_many(void **state)
{
    World *world = *state;

    tell(world, 900);
    tell(world, 1);
    store_memory_pump(world->twin.store);
    store_memory_pump(world->twin.store);
    assert_in_range(unread(world), 1, 501);
    twin_desk_settle(&world->twin);
    assert_int_equal(unread(world), 0);
}

/* The device is full when they are read; once it is not, intake asks for them again. */
static void what_could_not_be_read_is_read_later(void **state)
{
    World *world = *state;

    tell(world, 2);
    store_memory_pump(world->twin.store);
    store_memory_fail(world->twin.store, 1, STORE_FULL);
    store_memory_pump(world->twin.store);
    assert_int_equal(unread(world), 2);
    assert_int_equal(pending(world), 0);
    take_in_read(world->twin.desk);
    store_memory_pump(world->twin.store);
    assert_int_equal(unread(world), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(many_at_once_are_read_by_one_job, world_open, world_close),
        cmocka_unit_test_setup_teardown(what_comes_while_others_are_read_is_read_too, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(few_are_read_while_others_are_to_be_stored, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(none_lies_unread_behind_too_many, world_open, world_close),
        cmocka_unit_test_setup_teardown(what_could_not_be_read_is_read_later, world_open,
                                        world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
