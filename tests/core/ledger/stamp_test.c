/* SPDX-License-Identifier: Apache-2.0 */
/* The trace follows figure 5 of Kulkarni, Demirbas, Madappa, Avva and Leone, Logical Physical
 * Clocks, OPODIS 2014; its results were worked out by hand from the figure. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/ledger/stamp.h"

#define LOCAL                                                                                      \
    {                                                                                              \
        -1, 0                                                                                      \
    }

static void the_trace_of_the_paper(void **state)
{
    static const struct {
        int64_t wall;
        Stamp message; /* LOCAL for a local event */
        Stamp after;
    } STEPS[] = {
        {5, LOCAL, {5, 0}},      {6, LOCAL, {6, 0}},
        {10, {10, 5}, {10, 6}},  {7, LOCAL, {10, 7}}, /* the wall clock stepped back */
        {8, {10, 4}, {10, 8}},   {10, {10, 99}, {10, 100}},
        {11, {10, 31}, {11, 0}},                         /* it has caught up */
        {11, LOCAL, {11, 1}},    {12, {20, 3}, {20, 4}}, /* from the future */
        {13, LOCAL, {20, 5}},    {21, LOCAL, {21, 0}},
    };
    Stamp clock = {0, 0};

    (void)state;
    for (size_t i = 0; i < sizeof STEPS / sizeof STEPS[0]; i++) {
        if (STEPS[i].message.wall < 0)
            stamp_next(&clock, STEPS[i].wall);
        else
            assert_true(stamp_receive(&clock, STEPS[i].wall, STEPS[i].message));
        assert_int_equal(clock.wall, STEPS[i].after.wall);
        assert_int_equal(clock.logical, STEPS[i].after.logical);
    }
}

static void a_stamp_of_next_year_pulls_ten_minutes_at_most(void **state)
{
    Stamp clock = {1000, 0};

    (void)state;
    assert_false(stamp_receive(&clock, 2000, (Stamp){INT64_MAX, 0}));
    assert_int_equal(clock.wall, 2000 + STAMP_AHEAD_MS);
    assert_int_equal(clock.logical, 1);
    assert_true(stamp_receive(&clock, 2000, (Stamp){2000 + STAMP_AHEAD_MS, 5}));
    assert_int_equal(clock.wall, 2000 + STAMP_AHEAD_MS);
    assert_int_equal(clock.logical, 6);
}

static void absurd_counts_do_not_overflow(void **state)
{
    Stamp clock = {0, 0};

    (void)state;
    assert_false(stamp_receive(&clock, 2000, (Stamp){2000, INT64_MAX}));
    stamp_next(&clock, 2000);
    assert_int_equal(clock.wall, 2000 + STAMP_AHEAD_MS);
    assert_int_equal(clock.logical, 2);
    assert_true(stamp_receive(&clock, INT64_C(9000000), (Stamp){-5, -5}));
    assert_int_equal(clock.wall, 9000000);
    assert_int_equal(clock.logical, 0);
}

static void a_clock_that_starts_is_not_behind_what_it_saw(void **state)
{
    Stamp clock = {1000, 3};

    (void)state;
    stamp_recall(&clock, 900, (Stamp){1000, 7});
    assert_int_equal(stamp_compare(clock, (Stamp){1000, 7}), 0);
    stamp_recall(&clock, 900, (Stamp){999, 99});
    assert_int_equal(stamp_compare(clock, (Stamp){1000, 7}), 0);
    stamp_recall(&clock, 900, (Stamp){INT64_MAX, INT64_MAX});
    assert_int_equal(stamp_compare(clock, (Stamp){900 + STAMP_AHEAD_MS, 0}), 0);
}

static void order_is_wall_then_count(void **state)
{
    (void)state;
    assert_true(stamp_compare((Stamp){1, 9}, (Stamp){2, 0}) < 0);
    assert_true(stamp_compare((Stamp){2, 1}, (Stamp){2, 0}) > 0);
    assert_int_equal(stamp_compare((Stamp){2, 1}, (Stamp){2, 1}), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_trace_of_the_paper),
        cmocka_unit_test(a_stamp_of_next_year_pulls_ten_minutes_at_most),
        cmocka_unit_test(absurd_counts_do_not_overflow),
        cmocka_unit_test(a_clock_that_starts_is_not_behind_what_it_saw),
        cmocka_unit_test(order_is_wall_then_count),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
