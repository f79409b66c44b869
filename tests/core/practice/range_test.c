/* SPDX-License-Identifier: Apache-2.0 */
/* Range reached and lost where less is better, and where only one side is treated. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/practice/readiness_range.h"
#include "tests/support/near.h"
#include "tests/support/programmes.h"

typedef struct {
    Programme *programme;
    Stage stage; /* lower-hamstring, with an exit of the test's own */
    ReadyAsk ask;
    ReadyReading readings[8];
    Reasons reasons;
} Case;

static void case_free(Case *at)
{
    programme_free(at->programme);
    g_free(at);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Case, case_free)

/* At the stage until the measure is 20 or better; both sides. */
static Case *case_new(const char *measure)
{
    Case *at = g_new0(Case, 1);

    at->programme = programme_shipped(CALF_AND_HAMSTRING);
    at->stage = *programme_stage(at->programme, "lower-hamstring");
    at->stage.exit.measure = measure;
    at->stage.exit.at_least = 20;
    at->stage.exit.goal = false;
    at->ask = (ReadyAsk){.programme = at->programme,
                         .stage = &at->stage,
                         .today = 1014,
                         .stage_since = 1000,
                         .readings = at->readings,
                         .left = true,
                         .right = true,
                         .goal_left = -1,
                         .goal_right = -1};
    return at;
}

static void read_side(Case *at, Day day, bool right, double value)
{
    at->readings[at->ask.n_readings++] = (ReadyReading){.day = day,
                                                        .measure = at->stage.exit.measure,
                                                        .method = "goniometer",
                                                        .right = right,
                                                        .value = value};
}

static bool reached(Case *at)
{
    at->reasons.n = 0;
    return range_reached(&at->ask, &at->reasons);
}

static bool lost(Case *at)
{
    at->reasons.n = 0;
    return range_lost(&at->ask, &at->reasons);
}

static void a_deficit_is_reached_from_above(void **state)
{
    (void)state;
    g_autoptr(Case) at = case_new("knee-extension-deficit");

    read_side(at, 1010, false, 15);
    read_side(at, 1010, true, 20.5);
    assert_false(reached(at));
    at->readings[1].value = 20;
    assert_true(reached(at));
    at->ask.goal_right = 10; /* an angle of the leg raise: no limit of a deficit */
    assert_true(reached(at));
}

/* SEM 2.9 (Neto 2015): a change of 8.0 degrees or more is real. */
static void a_deficit_that_grows_is_range_lost(void **state)
{
    (void)state;
    g_autoptr(Case) at = case_new("knee-extension-deficit");

    read_side(at, 1001, true, 12);
    read_side(at, 1008, true, 21);
    assert_true(lost(at));
    near(at->reasons.items[at->reasons.n - 1].value, 9, 1e-9);
    at->readings[1].value = 19; /* within measuring error */
    assert_false(lost(at));
    at->readings[0].value = 40; /* and one that shrinks is gained */
    assert_false(lost(at));
}

static void the_side_that_is_not_treated_has_no_say(void **state)
{
    (void)state;
    for (int right = 0; right < 2; right++) {
        g_autoptr(Case) at = case_new("knee-extension-deficit");

        at->ask.left = !right;
        at->ask.right = right;
        read_side(at, 1001, !right, 10);
        read_side(at, 1010, !right, 60);
        assert_false(lost(at));
        assert_false(reached(at)); /* nothing was measured on the side that counts */
        read_side(at, 1002, right, 30);
        read_side(at, 1010, right, 18);
        assert_true(reached(at));
        assert_false(lost(at));
        read_side(at, 1012, right, 30);
        assert_false(reached(at));
        assert_true(lost(at));
    }
}

/* A reading dated after today, or before the stage, or by a method that nobody knows. */
static void what_cannot_count_decides_nothing(void **state)
{
    (void)state;
    g_autoptr(Case) at = case_new("knee-extension-deficit");

    at->ask.left = false;
    read_side(at, 990, true, 12);
    read_side(at, 998, true, 30);
    assert_false(lost(at)); /* lost before this stage began */
    read_side(at, 1020, true, 5);
    assert_false(reached(at));
    at->readings[2].day = 1012;
    at->readings[2].method = "by eye";
    assert_false(reached(at));
    at->readings[2].method = NULL;
    assert_false(reached(at));
    at->readings[2].method = "goniometer";
    assert_true(reached(at));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_deficit_is_reached_from_above),
        cmocka_unit_test(a_deficit_that_grows_is_range_lost),
        cmocka_unit_test(the_side_that_is_not_treated_has_no_say),
        cmocka_unit_test(what_cannot_count_decides_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
