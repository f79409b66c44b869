/* SPDX-License-Identifier: Apache-2.0 */
/* When a sick gateway is tried again. */
#include "daemon/relay/circuit.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { FAILURES = 5, REFUSALS = 3, PROBES = 8 };

static const int64_t START_MS = 1772438400000;

static Circuit circuit_of(double rate, int concurrency)
{
    Circuit circuit;

    circuit_init(&circuit, rate, concurrency);
    return circuit;
}

/* Fails so often, each time as soon as it may be tried; the instant at which it may be tried again. */
static int64_t try_in_vain(Circuit *circuit, int64_t now_ms, int times, bool unreached)
{
    int64_t again = now_ms;

    for (int i = 0; i < times; i++) {
        assert_true(circuit_slots(circuit, again, &now_ms) > 0);
        circuit_started(circuit);
        circuit_failed(circuit, again, unreached);
        if (circuit_slots(circuit, again, &now_ms) == 0) again = now_ms;
    }
    return again;
}

static void five_failures_open_it(void **state)
{
    Circuit circuit = circuit_of(0, 4);

    (void)state;
    try_in_vain(&circuit, START_MS, FAILURES - 1, false);
    assert_int_equal(circuit.state, CIRCUIT_CLOSED);
    try_in_vain(&circuit, START_MS, 1, false);
    assert_int_equal(circuit.state, CIRCUIT_OPEN);
    circuit_clear(&circuit);
}

/* Each try may cost a message, which nobody then knows to have left. */
static void a_gateway_that_answers_badly_is_tried_more_and_more_seldom(void **state)
{
    static const int64_t WAITS_S[PROBES] = {30, 60, 120, 240, 300, 300, 300, 300};
    Circuit circuit = circuit_of(0, 4);
    int64_t at = try_in_vain(&circuit, START_MS, FAILURES, false);

    (void)state;
    assert_int_equal(at - START_MS, WAITS_S[0] * 1000);
    for (int i = 1; i < PROBES; i++) {
        int64_t next = try_in_vain(&circuit, at, 1, false);
        assert_int_equal(next - at, WAITS_S[i] * 1000);
        at = next;
    }
    circuit_clear(&circuit);
}

/* Nothing leaves, so nothing is spent: an alert may be waiting for it. */
static void a_gateway_that_cannot_be_reached_is_tried_each_half_minute(void **state)
{
    Circuit circuit = circuit_of(0, 4);
    int64_t at = try_in_vain(&circuit, START_MS, FAILURES, true);

    (void)state;
    for (int i = 0; i < PROBES; i++) {
        int64_t next = try_in_vain(&circuit, at, 1, true);
        assert_int_equal(next - at, 30000);
        at = next;
    }
    circuit_started(&circuit);
    circuit_succeeded(&circuit);
    assert_int_equal(circuit.state, CIRCUIT_CLOSED);
    circuit_clear(&circuit);
}

static void one_try_at_a_time_while_it_is_sick(void **state)
{
    Circuit circuit = circuit_of(0, 4);
    int64_t at = try_in_vain(&circuit, START_MS, FAILURES, false), again;

    (void)state;
    assert_int_equal(circuit_slots(&circuit, at - 1, &again), 0);
    assert_int_equal(again, at);
    assert_int_equal(circuit_slots(&circuit, at, &again), 1);
    circuit_started(&circuit);
    assert_int_equal(circuit_slots(&circuit, at, &again), 0);
    assert_int_equal(again, INT64_MAX);
    circuit_clear(&circuit);
}

static void three_people_refused_in_a_row_open_it_and_one_person_does_not(void **state)
{
    static const char *const PEOPLE[REFUSALS] = {"+442079460001", "+442079460002", "+442079460003"};
    Circuit circuit = circuit_of(0, 4);

    (void)state;
    for (int i = 0; i < 2 * REFUSALS; i++) {
        circuit_started(&circuit);
        assert_false(circuit_refused(&circuit, START_MS, PEOPLE[0]));
    }
    circuit_started(&circuit);
    assert_false(circuit_refused(&circuit, START_MS, PEOPLE[1]));
    circuit_started(&circuit);
    assert_true(circuit_refused(&circuit, START_MS, PEOPLE[2]));
    assert_int_equal(circuit.state, CIRCUIT_OPEN);
    circuit_clear(&circuit);
}

/* Also where the first goes out at the end of a second of the clock's. */
static void one_a_second_is_a_second_apart(void **state)
{
    Circuit circuit = circuit_of(1, 8);
    int64_t again, first_ms = START_MS + 990;

    (void)state;
    assert_int_equal(circuit_slots(&circuit, first_ms, &again), 1);
    circuit_started(&circuit);
    circuit_succeeded(&circuit);
    assert_int_equal(circuit_slots(&circuit, first_ms + 999, &again), 0);
    assert_int_equal(again, first_ms + 1000);
    assert_int_equal(circuit_slots(&circuit, first_ms + 1000, &again), 1);
    circuit_clear(&circuit);
}

static void the_rate_holds_and_a_clock_set_back_stops_nothing(void **state)
{
    Circuit circuit = circuit_of(2, 8);
    int64_t again;

    (void)state;
    for (int i = 0; i < 2; i++) {
        assert_true(circuit_slots(&circuit, START_MS, &again) > 0);
        circuit_started(&circuit);
        circuit_succeeded(&circuit);
    }
    assert_int_equal(circuit_slots(&circuit, START_MS + 999, &again), 0);
    assert_int_equal(again, START_MS + 1000);
    assert_int_equal(circuit_slots(&circuit, START_MS - 3600000, &again), 2);
    circuit_clear(&circuit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_failures_open_it),
        cmocka_unit_test(a_gateway_that_answers_badly_is_tried_more_and_more_seldom),
        cmocka_unit_test(a_gateway_that_cannot_be_reached_is_tried_each_half_minute),
        cmocka_unit_test(one_try_at_a_time_while_it_is_sick),
        cmocka_unit_test(three_people_refused_in_a_row_open_it_and_one_person_does_not),
        cmocka_unit_test(one_a_second_is_a_second_apart),
        cmocka_unit_test(the_rate_holds_and_a_clock_set_back_stops_nothing),
    };

    return cmocka_run_group_tests_name("circuit", tests, NULL, NULL);
}
