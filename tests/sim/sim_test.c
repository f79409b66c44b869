/* SPDX-License-Identifier: Apache-2.0 */
/* The whole daemon on its twins: a fixed number of seeds. `make sim SECONDS=60` tries as many as the time allows. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/sim/story.h"

enum { SEEDS = 4, DAYS = 5 };

static void the_rules_hold_over_seeds(void **state)
{
    StoryFigures figures = {0};

    (void)state;
    for (uint64_t seed = 1; seed <= SEEDS; seed++)
        assert_true(story_live(seed, DAYS, &figures));
    assert_true(figures.texts > SEEDS * DAYS);
    print_message("%d clinic days, %d texts\n", figures.days, figures.texts);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_rules_hold_over_seeds)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
