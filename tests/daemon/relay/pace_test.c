/* SPDX-License-Identifier: Apache-2.0 */
/* How fast a gateway takes messages. */
#include "daemon/relay/pace.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { SPAN_MS = 100 };

static const int64_t START_MS = 1772438400000;

static void send(Pace *pace, int64_t now_ms, int times)
{
    for (int i = 0; i < times; i++)
        pace_note(pace, now_ms);
}

static void a_span_counts_once_it_is_over(void **state)
{
    Pace pace = {0};

    (void)state;
    send(&pace, START_MS, 30);
    send(&pace, START_MS + 99, 10);
    assert_int_equal(pace_per_span(&pace, START_MS + 99), 0);
    assert_int_equal(pace_per_span(&pace, START_MS + SPAN_MS), 40);
    send(&pace, START_MS + SPAN_MS + 50, 7);
    assert_int_equal(pace_per_span(&pace, START_MS + SPAN_MS + 99), 40);
    assert_int_equal(pace_per_span(&pace, START_MS + 2 * SPAN_MS), 7);
}

static void a_pause_leaves_no_pace(void **state)
{
    Pace pace = {0};

    (void)state;
    send(&pace, START_MS, 500);
    assert_int_equal(pace_per_span(&pace, START_MS + 2 * SPAN_MS), 0);
    send(&pace, START_MS + 2 * SPAN_MS, 3);
    assert_int_equal(pace_per_span(&pace, START_MS + 3 * SPAN_MS), 3);
}

static void a_clock_set_back_leaves_no_pace(void **state)
{
    Pace pace = {0};

    (void)state;
    send(&pace, START_MS, 500);
    assert_int_equal(pace_per_span(&pace, START_MS - 1), 0);
    send(&pace, START_MS - 1, 2);
    assert_int_equal(pace_per_span(&pace, START_MS - 1 + SPAN_MS), 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_span_counts_once_it_is_over),
        cmocka_unit_test(a_pause_leaves_no_pace),
        cmocka_unit_test(a_clock_set_back_leaves_no_pace),
    };

    return cmocka_run_group_tests_name("pace", tests, NULL, NULL);
}
