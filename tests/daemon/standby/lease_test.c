/* SPDX-License-Identifier: Apache-2.0 */
/* When a process that stands by takes over: once the schema was free for long enough, without a break. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "daemon/standby/lease.h"

#define START_MS INT64_C(5000)

static Lease fresh(void)
{
    return (Lease){.length_ms = LEASE_MS, .free_since_ms = LEASE_NOT_FREE};
}

/* Looks every second from START_MS on; the second in which it takes over, or -1. */
static int looks(Lease *lease, const SchemaLook *seen, int count)
{
    for (int i = 0; i < count; i++)
        if (lease_note(lease, seen[i], START_MS + 1000 * i)) return i;
    return -1;
}

static void fill(SchemaLook *seen, int count, SchemaLook what)
{
    for (int i = 0; i < count; i++)
        seen[i] = what;
}

static void a_schema_that_is_held_is_left_alone(void **state)
{
    SchemaLook seen[100];
    Lease lease = fresh();

    (void)state;
    fill(seen, 100, SCHEMA_HELD);
    assert_int_equal(looks(&lease, seen, 100), -1);
}

static void one_that_stays_free_is_taken_after_the_lease(void **state)
{
    SchemaLook seen[100];
    Lease lease = fresh();

    (void)state;
    fill(seen, 100, SCHEMA_FREE);
    fill(seen, 10, SCHEMA_HELD);
    assert_int_equal(looks(&lease, seen, 100), 10 + LEASE_MS / 1000);
}

/* The server was started anew, and the one before came back to it. */
static void a_worker_that_comes_back_keeps_it(void **state)
{
    SchemaLook seen[100];
    Lease lease = fresh();

    (void)state;
    fill(seen, 100, SCHEMA_HELD);
    fill(seen + 10, 19, SCHEMA_FREE);
    assert_int_equal(looks(&lease, seen, 100), -1);
}

/* Whoever cannot see the server does not know whether it is free. */
static void what_was_not_seen_does_not_count(void **state)
{
    SchemaLook seen[60];
    Lease lease = fresh();

    (void)state;
    fill(seen, 60, SCHEMA_FREE);
    seen[15] = SCHEMA_UNSEEN;
    assert_int_equal(looks(&lease, seen, 60), 16 + LEASE_MS / 1000);
    fill(seen, 60, SCHEMA_UNSEEN);
    lease = fresh();
    assert_int_equal(looks(&lease, seen, 60), -1);
}

static void without_a_lease_it_is_taken_at_once(void **state)
{
    const SchemaLook seen[] = {SCHEMA_HELD, SCHEMA_FREE};
    Lease lease = {.length_ms = 0, .free_since_ms = LEASE_NOT_FREE};

    (void)state;
    assert_int_equal(looks(&lease, seen, 2), 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_schema_that_is_held_is_left_alone),
        cmocka_unit_test(one_that_stays_free_is_taken_after_the_lease),
        cmocka_unit_test(a_worker_that_comes_back_keeps_it),
        cmocka_unit_test(what_was_not_seen_does_not_count),
        cmocka_unit_test(without_a_lease_it_is_taken_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
