/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/quiet.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static Quiet quiet(const char *text)
{
    Quiet read = {0};

    assert_true(quiet_parse(text, &read));
    return read;
}

static int32_t second(const char *text)
{
    int32_t read = 0;

    assert_true(clock_time_parse(text, &read));
    return read;
}

static void assert_over(const char *hours, const char *zone_id, const char *from,
                        const char *expected)
{
    g_autoptr(GTimeZone) zone = g_time_zone_new_identifier(zone_id);
    int64_t ms;

    assert_non_null(zone);
    assert_true(instant_parse(from, &ms));
    g_autofree char *over = instant_format_exact(quiet_over(quiet(hours), zone, ms));
    if (strcmp(over, expected) != 0)
        fail_msg("%s in %s from %s: %s, expected %s", hours, zone_id, from, over, expected);
    assert_true(instant_parse(over, &ms));
    assert_false(quiet_at(quiet(hours), zone, ms));
}

static void the_start_is_closed_and_the_end_is_open(void **state)
{
    Quiet night = quiet("21:00-08:00");
    Quiet noon = quiet("12:00-14:00");

    (void)state;
    assert_false(quiet_covers(night, second("20:59")));
    assert_true(quiet_covers(night, second("21:00")));
    assert_true(quiet_covers(night, second("00:00")));
    assert_true(quiet_covers(night, second("08:00") - 1));
    assert_false(quiet_covers(night, second("08:00")));
    assert_false(quiet_covers(noon, second("12:00") - 1));
    assert_true(quiet_covers(noon, second("12:00")));
    assert_false(quiet_covers(noon, second("14:00")));
}

static void equal_ends_mean_no_quiet_hours(void **state)
{
    Quiet none = quiet("08:00-08:00");

    (void)state;
    for (int32_t s = 0; s < 86400; s += 60)
        assert_false(quiet_covers(none, s));
}

static void what_is_no_span_is_refused(void **state)
{
    static const char *const REFUSED[] = {"",
                                          "21:00",
                                          "21:00-",
                                          "-08:00",
                                          "21:00-8:00",
                                          "21:00-24:00",
                                          "21:00-08:00-09:00",
                                          "21:00 - 08:00",
                                          "21-08"};
    Quiet read;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(quiet_parse(REFUSED[i], &read));
}

static void an_open_instant_is_its_own_answer(void **state)
{
    (void)state;
    assert_over("21:00-08:00", "Europe/London", "2026-01-15T12:00:00.250Z",
                "2026-01-15T12:00:00.250Z");
    assert_over("21:00-08:00", "Europe/London", "2026-01-15T08:00:00Z", "2026-01-15T08:00:00Z");
}

static void the_night_ends_in_the_morning(void **state)
{
    (void)state;
    assert_over("21:00-08:00", "Europe/London", "2026-01-15T21:00:00Z", "2026-01-16T08:00:00Z");
    assert_over("21:00-08:00", "Europe/London", "2026-01-16T07:59:59.999Z", "2026-01-16T08:00:00Z");
    assert_over("21:00-08:00", "Asia/Kathmandu", "2026-01-15T20:00:00Z", "2026-01-16T02:15:00Z");
}

static void a_night_with_a_clock_change_ends_by_the_new_clock(void **state)
{
    (void)state;
    assert_over("21:00-08:00", "Europe/London", "2026-03-28T22:00:00.5Z", "2026-03-29T07:00:00Z");
    assert_over("21:00-08:00", "Europe/London", "2026-10-24T21:00:00Z", "2026-10-25T08:00:00Z");
}

/* Quiet to 01:30, and the clock jumps from 01:00 to 02:00: it never shows the end. */
static void an_end_in_a_gap_ends_where_the_clock_jumps(void **state)
{
    (void)state;
    assert_over("21:00-01:30", "Europe/London", "2026-03-28T23:00:00Z", "2026-03-29T01:00:00Z");
}

/* At 02:00 the clock goes back to 01:00: 01:30 comes twice, and in between it is quiet again. */
static void an_end_that_comes_twice_counts_twice(void **state)
{
    (void)state;
    assert_over("21:00-01:30", "Europe/London", "2026-10-24T22:00:00Z", "2026-10-25T00:30:00Z");
    assert_over("21:00-01:30", "Europe/London", "2026-10-25T01:10:00Z", "2026-10-25T01:30:00Z");
}

/* Whatever the hours, the answer is the first open minute: looked for minute by minute. */
static void agrees_with_a_walk_by_the_minute(void **state)
{
    static const char *const HOURS[] = {"21:00-08:00", "00:00-02:00", "22:30-01:30", "01:15-01:45",
                                        "00:00-23:59"};
    static const char *const ZONES[] = {"Europe/London", "Australia/Lord_Howe", "America/Santiago",
                                        "America/Nuuk"};
    static const char *const DAYS[] = {"2026-03-28T12:00:00Z", "2026-10-24T12:00:00Z",
                                       "2026-04-04T12:00:00Z", "2026-10-03T12:00:00Z",
                                       "2026-09-05T20:00:00Z"};

    (void)state;
    for (size_t h = 0; h < G_N_ELEMENTS(HOURS); h++)
        for (size_t z = 0; z < G_N_ELEMENTS(ZONES); z++)
            for (size_t d = 0; d < G_N_ELEMENTS(DAYS); d++) {
                g_autoptr(GTimeZone) zone = g_time_zone_new_identifier(ZONES[z]);
                Quiet hours = quiet(HOURS[h]);
                int64_t from;

                assert_true(instant_parse(DAYS[d], &from));
                for (int64_t ms = from; ms < from + DAY_MS; ms += 25 * MINUTE_MS) {
                    int64_t walk = ms;
                    while (quiet_at(hours, zone, walk))
                        walk += MINUTE_MS;
                    assert_true(quiet_over(hours, zone, ms) == walk);
                }
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_start_is_closed_and_the_end_is_open),
        cmocka_unit_test(equal_ends_mean_no_quiet_hours),
        cmocka_unit_test(what_is_no_span_is_refused),
        cmocka_unit_test(an_open_instant_is_its_own_answer),
        cmocka_unit_test(the_night_ends_in_the_morning),
        cmocka_unit_test(a_night_with_a_clock_change_ends_by_the_new_clock),
        cmocka_unit_test(an_end_in_a_gap_ends_where_the_clock_jumps),
        cmocka_unit_test(an_end_that_comes_twice_counts_twice),
        cmocka_unit_test(agrees_with_a_walk_by_the_minute),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
