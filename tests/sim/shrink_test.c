/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic that breaks its rule under a known condition is shrunk to that condition. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>
#include <string.h>

#include "tests/sim/shrink.h"

/* Broken where there are four days, two people, and cuts in a storm of two or more. */
static bool needs_cuts(uint64_t seed, const RunShape *shape, RunTally *tally)
{
    bool breaks = shape->days >= 4 && shape->people >= 2 && shape->storm >= 2 &&
                  (shape->without & FAULT_CUTS) == 0;

    assert_int_equal(seed, 11);
    g_strlcpy(tally->rule, breaks ? "nothing is lost" : "", sizeof tally->rule);
    return !breaks;
}

/* Another rule breaks as well, as soon as there are fewer than ten days: that is not the one that was seen. */
static bool breaks_otherwise(uint64_t seed, const RunShape *shape, RunTally *tally)
{
    (void)seed;
    g_strlcpy(tally->rule, shape->days < 10 ? "another" : "nothing is lost", sizeof tally->rule);
    return false;
}

static void only_what_the_rule_needs_is_left(void **state)
{
    RunTally broke = {.rule = "nothing is lost", .days = 37};
    RunShape small = shrink(needs_cuts, 11, &RUN_AS_DRAWN, &broke, 200);
    g_autofree char *words = shrink_words(11, &small);

    (void)state;
    assert_int_equal(small.days, 4);
    assert_int_equal(small.people, 2);
    assert_int_equal(small.storm, 2);
    assert_int_equal(small.without, FAULT_ALL & ~FAULT_CUTS);
    assert_string_equal(words, "--only --loud --seed 11 --days 4 --people 2 --storm 2 --without "
                               "weather,away,refusals,full,clock,lost");
}

static void another_rule_is_not_followed(void **state)
{
    RunTally broke = {.rule = "nothing is lost", .days = 37};
    RunShape small = shrink(breaks_otherwise, 1, &RUN_AS_DRAWN, &broke, 200);

    (void)state;
    assert_int_equal(small.days, 10);
}

static void the_search_has_a_bound(void **state)
{
    RunTally broke = {.rule = "nothing is lost", .days = 37};
    RunShape small = shrink(needs_cuts, 11, &RUN_AS_DRAWN, &broke, 1);

    (void)state;
    assert_int_equal(small.days, 19);
    assert_int_equal(small.people, 13);
}

static void names_of_faults_are_read_as_they_are_written(void **state)
{
    (void)state;
    for (unsigned fault = 1; fault < FAULT_ALL; fault <<= 1) {
        g_autofree char *name = run_fault_names(fault);
        assert_int_equal(run_fault_named(name), fault);
    }
    assert_int_equal(run_fault_named("rain"), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_what_the_rule_needs_is_left),
        cmocka_unit_test(another_rule_is_not_followed),
        cmocka_unit_test(the_search_has_a_bound),
        cmocka_unit_test(names_of_faults_are_read_as_they_are_written),
    };

    return cmocka_run_group_tests_name("shrink", tests, NULL, NULL);
}
