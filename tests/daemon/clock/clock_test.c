/* SPDX-License-Identifier: Apache-2.0 */
/* Timers of a clock that is set back while they wait. */
#include "daemon/clock/clock.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define START_MS 100000
#define HOUR 3600000

static void count(void *context)
{
    ++*(int *)context;
}

/* A poll is to come in a minute when the clock, an hour ahead until then, is mended: it comes in a minute all the same. */
static void a_clock_set_back_makes_no_wait_longer(void **state)
{
    Clock *clock = clock_stepped_new(START_MS); /* as it is after it was mended */
    int polled = 0, never = 0;
    Timer *poll = timer_new(clock, count, &polled);
    Timer *unset = timer_new(clock, count, &never);

    (void)state;
    timer_set(poll, START_MS + HOUR + 60000);
    clock_hasten(clock, HOUR);
    assert_int_equal(clock_next(clock), START_MS + 60000);
    assert_int_equal(timer_at(unset), CLOCK_NEVER);
    clock_move(clock, START_MS + 59999);
    assert_int_equal(clock_fire(clock), 0);
    clock_move(clock, START_MS + 60000);
    assert_int_equal(clock_fire(clock), 1);
    assert_int_equal(polled, 1);
    assert_int_equal(never, 0);
    timer_free(poll);
    timer_free(unset);
    clock_free(clock);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clock_set_back_makes_no_wait_longer),
    };

    return cmocka_run_group_tests_name("clock", tests, NULL, NULL);
}
