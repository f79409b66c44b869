/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void every_date_survives_the_round_trip(void **state)
{
    Day expected, again;
    int year, month, mday;

    (void)state;
    assert_true(day_from_civil(1, 1, 1, &expected));
    for (int y = 1; y <= 9999; y++)
        for (int m = 1; m <= 12; m++)
            for (int d = 1; d <= 31; d++) {
                if (!day_from_civil(y, m, d, &again)) continue;
                assert_int_equal(again, expected);
                day_to_civil(expected, &year, &month, &mday);
                assert_true(year == y && month == m && mday == d);
                expected++;
            }
    /* 9999 years of 365 days and their 2424 leap days, counted from 0001-01-01. */
    assert_true(day_from_civil(1, 1, 1, &again));
    assert_int_equal(expected - again, 9999 * 365 + 2424);
}

static void known_dates(void **state)
{
    Day day;

    (void)state;
    assert_true(day_from_civil(1970, 1, 1, &day));
    assert_int_equal(day, 0);
    assert_true(day_from_civil(2000, 2, 29, &day));
    assert_int_equal(day, 11016);
    assert_false(day_from_civil(1900, 2, 29, &day));
    assert_false(day_from_civil(2026, 4, 31, &day));
    assert_false(day_from_civil(2026, 0, 1, &day));
    assert_false(day_from_civil(2026, 13, 1, &day));
    assert_false(day_from_civil(0, 1, 1, &day));
    assert_false(day_from_civil(10000, 1, 1, &day));
}

static void weekdays_follow_glib(void **state)
{
    (void)state;
    assert_int_equal(day_weekday(0), 4);
    assert_int_equal(day_weekday(-1), 3);
    for (Day day = -700000; day < 700000; day += 997) {
        int year, month, mday;

        day_to_civil(day, &year, &month, &mday);
        if (year < 1) continue;
        GDate *date = g_date_new_dmy((GDateDay)mday, (GDateMonth)month, (GDateYear)year);
        assert_int_equal(day_weekday(day), g_date_get_weekday(date));
        g_date_free(date);
    }
}

static void years_later_and_earlier_follow_glib(void **state)
{
    static const int YEARS[] = {-100, -4, -2, -1, 0, 1, 4, 100};

    (void)state;
    for (Day day = 0; day < 40000; day += 13) {
        for (size_t i = 0; i < G_N_ELEMENTS(YEARS); i++) {
            g_autoptr(GDate) date = g_date_new_julian(719163 + (guint32)day); /* of 1970-01-01 */
            g_autofree char *text = day_format(day_years_after(day, YEARS[i]));
            char wanted[16];

            if (YEARS[i] < 0)
                g_date_subtract_years(date, (guint)-YEARS[i]);
            else
                g_date_add_years(date, (guint)YEARS[i]);
            g_date_strftime(wanted, sizeof wanted, "%Y-%m-%d", date);
            assert_string_equal(text, wanted);
        }
    }
    assert_int_equal(day_years_after(0, -3000), 0);
}

static void dates_are_read_in_one_form_only(void **state)
{
    static const char *const REFUSED[] = {
        "",           "2026-3-02",  "2026-03-2",  "20260302",    "2026-03-02 ", " 2026-03-02",
        "2026-02-29", "+026-03-02", "2026/03/02", "2026-03-02T", "02.03.2026",  "0000-01-01"};
    Day day;

    (void)state;
    assert_true(day_parse("2026-03-02", &day));
    g_autofree char *text = day_format(day);
    assert_string_equal(text, "2026-03-02");
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(day_parse(REFUSED[i], &day));
}

static void local_times(void **state)
{
    static const char *const REFUSED[] = {
        "2026-03-02",        "2026-03-02T24:00",    "2026-03-02T08:60",
        "2026-03-02T08:30Z", "2026-03-02T08:30:60", "2026-03-02 08:30",
        "2026-03-02T8:30",   "2026-03-02T08:30:",   "2026-03-02T08:30:5"};
    LocalTime local;

    (void)state;
    assert_true(local_parse("2026-03-02T08:30", &local));
    assert_int_equal(local.second, 30600);
    g_autofree char *short_form = local_format(local);
    assert_string_equal(short_form, "2026-03-02T08:30");
    assert_true(local_parse("2026-03-02T08:30:05", &local));
    g_autofree char *long_form = local_format(local);
    assert_string_equal(long_form, "2026-03-02T08:30:05");
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(local_parse(REFUSED[i], &local));
}

static void clock_times(void **state)
{
    static const char *const REFUSED[] = {"",         "8:30",  "24:00", "08:60",
                                          "08:30:00", "08.30", "-8:30", "0830"};
    int32_t second;

    (void)state;
    assert_true(clock_time_parse("00:00", &second));
    assert_int_equal(second, 0);
    assert_true(clock_time_parse("23:59", &second));
    assert_int_equal(second, 86340);
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(clock_time_parse(REFUSED[i], &second));
}

static void assert_instant(const char *text, int64_t expected)
{
    int64_t ms = 0;

    assert_true(instant_parse(text, &ms));
    assert_true(ms == expected);
}

/* RFC 3339 section 5.8 lends most of these. */
static void instants_are_read_with_any_offset(void **state)
{
    (void)state;
    assert_instant("1970-01-01T00:00:00Z", 0);
    assert_instant("1985-04-12T23:20:50.52Z", INT64_C(482196050520));
    assert_instant("1996-12-19T16:39:57-08:00", INT64_C(851042397000));
    assert_instant("1996-12-20T00:39:57Z", INT64_C(851042397000));
    assert_instant("1990-12-31T23:59:60Z", INT64_C(662688000000));
    assert_instant("1990-12-31T15:59:60-08:00", INT64_C(662688000000));
    assert_instant("1937-01-01T12:00:27.87+00:20", INT64_C(-1041337172130));
    assert_instant("2026-03-02t08:30:00.123999z", INT64_C(1772440200123));
    assert_instant("1969-12-31T23:59:59.999Z", -1);
}

static void instants_that_are_none(void **state)
{
    static const char *const REFUSED[] = {"2026-03-02T08:30:00",
                                          "2026-03-02T08:30Z",
                                          "2026-03-02 08:30:00Z",
                                          "2026-03-02T08:30:00.Z",
                                          "2026-03-02T08:30:61Z",
                                          "2026-03-02T08:30:00+1:00",
                                          "2026-03-02T08:30:00+24:00",
                                          "2026-03-02T08:30:00+01:60",
                                          "2026-03-02T08:30:00Z ",
                                          "2026-02-30T08:30:00Z",
                                          "0001-01-01T00:00:00+00:01",
                                          "9999-12-31T23:59:59-00:01",
                                          "2026-03-02T08:30:00,5Z",
                                          "",
                                          "now"};
    int64_t ms;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(instant_parse(REFUSED[i], &ms));
}

static void instants_are_written_in_utc(void **state)
{
    (void)state;
    g_autofree char *whole = instant_format(-1);
    g_autofree char *exact = instant_format_exact(-1);
    g_autofree char *plain = instant_format_exact(INT64_C(1772440200000));
    g_autofree char *least = instant_format(INT64_MIN);
    g_autofree char *greatest = instant_format(INT64_MAX);

    assert_string_equal(whole, "1969-12-31T23:59:59Z");
    assert_string_equal(exact, "1969-12-31T23:59:59.999Z");
    assert_string_equal(plain, "2026-03-02T08:30:00Z");
    assert_string_equal(least, "0001-01-01T00:00:00Z");
    assert_string_equal(greatest, "9999-12-31T23:59:59Z");
}

static void durations(void **state)
{
    static const char *const REFUSED[] = {
        "",     "0s", "s",  "30", "30 s",      "-1h",          "1.5h",
        "401d", "1w", "1m", "1H", "34560001s", "99999999999s", "1h30min"};
    int64_t ms;

    (void)state;
    assert_true(duration_parse("30s", &ms) && ms == 30000);
    assert_true(duration_parse("15min", &ms) && ms == 900000);
    assert_true(duration_parse("3h", &ms) && ms == 10800000);
    assert_true(duration_parse("400d", &ms) && ms == 400 * DAY_MS);
    assert_true(duration_parse("34560000s", &ms) && ms == 400 * DAY_MS);
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++)
        assert_false(duration_parse(REFUSED[i], &ms));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_date_survives_the_round_trip),
        cmocka_unit_test(known_dates),
        cmocka_unit_test(weekdays_follow_glib),
        cmocka_unit_test(years_later_and_earlier_follow_glib),
        cmocka_unit_test(dates_are_read_in_one_form_only),
        cmocka_unit_test(local_times),
        cmocka_unit_test(clock_times),
        cmocka_unit_test(instants_are_read_with_any_offset),
        cmocka_unit_test(instants_that_are_none),
        cmocka_unit_test(instants_are_written_in_utc),
        cmocka_unit_test(durations),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
