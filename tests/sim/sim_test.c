/* SPDX-License-Identifier: Apache-2.0 */
/* The whole daemon on its twins: a fixed number of seeds. `make sim SECONDS=60` tries as many as the time allows. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/sim/run.h"

enum { SEEDS = 4, DAYS = 12 };

static const RunShape SHAPE = {.days = DAYS, .storm = 3};

static void every_rule_holds_over_seeds(void **state)
{
    RunTally total = {0};

    (void)state;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        RunTally tally;
        assert_true(run_seed(seed, &SHAPE, &tally));
        total.messages += tally.messages;
        total.replies += tally.replies;
        total.lives += tally.lives;
    }
    /* A run in which little happens proves little. */
    assert_true(total.messages > SEEDS * 40);
    assert_true(total.replies > SEEDS * 10);
    assert_true(total.lives > SEEDS);
}

/* "The same seed gives the same results." */
static void the_same_seed_gives_the_same_run(void **state)
{
    RunTally first, second;

    (void)state;
    assert_true(run_seed(7, &SHAPE, &first));
    assert_true(run_seed(7, &SHAPE, &second));
    assert_memory_equal(&first, &second, sizeof first);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_rule_holds_over_seeds),
        cmocka_unit_test(the_same_seed_gives_the_same_run),
    };

    return cmocka_run_group_tests_name("sim", tests, NULL, NULL);
}
