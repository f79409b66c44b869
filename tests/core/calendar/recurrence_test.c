/* SPDX-License-Identifier: Apache-2.0 */
/* Most rows are the worked examples of RFC 5545 section 3.8.5.3, all in New York at nine in the
 * morning. */
#include "core/calendar/recurrence.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

typedef struct {
    const char *rule;
    const char *start;
    const char *expected; /* the month and day of each occurrence; "..." at the end: and more */
} Example;

static const Example EXAMPLES[] = {
    {"FREQ=DAILY;COUNT=10", "1997-09-02T09:00",
     "09-02 09-03 09-04 09-05 09-06 09-07 09-08 09-09 09-10 09-11"},
    {"FREQ=DAILY;INTERVAL=2", "1997-09-02T09:00",
     "09-02 09-04 09-06 09-08 09-10 09-12 09-14 09-16 09-18 09-20 09-22 09-24 09-26 09-28 09-30 "
     "10-02 ..."},
    {"FREQ=DAILY;INTERVAL=10;COUNT=5", "1997-09-02T09:00", "09-02 09-12 09-22 10-02 10-12"},
    {"FREQ=WEEKLY;COUNT=10", "1997-09-02T09:00",
     "09-02 09-09 09-16 09-23 09-30 10-07 10-14 10-21 10-28 11-04"},
    {"FREQ=WEEKLY;UNTIL=19971224T000000Z", "1997-09-02T09:00",
     "09-02 09-09 09-16 09-23 09-30 10-07 10-14 10-21 10-28 11-04 11-11 11-18 11-25 12-02 12-09 "
     "12-16 12-23"},
    {"FREQ=WEEKLY;INTERVAL=2;WKST=SU", "1997-09-02T09:00",
     "09-02 09-16 09-30 10-14 10-28 11-11 11-25 12-09 12-23 01-06 01-20 02-03 02-17 ..."},
    {"FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH", "1997-09-02T09:00",
     "09-02 09-04 09-09 09-11 09-16 09-18 09-23 09-25 09-30 10-02"},
    {"FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "1997-09-02T09:00",
     "09-02 09-04 09-09 09-11 09-16 09-18 09-23 09-25 09-30 10-02"},
    {"FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR", "1997-09-01T09:00",
     "09-01 09-03 09-05 09-15 09-17 09-19 09-29 10-01 10-03 10-13 10-15 10-17 10-27 10-29 10-31 "
     "11-10 11-12 11-14 11-24 11-26 11-28 12-08 12-10 12-12 12-22"},
    {"FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "1997-09-02T09:00",
     "09-02 09-04 09-16 09-18 09-30 10-02 10-14 10-16"},
    {"FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997-08-05T09:00",
     "08-05 08-10 08-19 08-24"},
    {"FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997-08-05T09:00",
     "08-05 08-17 08-19 08-31"},
    {"FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", "1997-09-02T09:00",
     "09-02 09-15 10-02 10-15 11-02 11-15 12-02 12-15 01-02 01-15"},
    {"FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "2007-01-15T09:00", "01-15 01-30 02-15 03-15 03-30"},
    {"FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "1997-09-30T09:00",
     "09-30 10-01 10-31 11-01 11-30 12-01 12-31 01-01 01-31 02-01"},
    /* Not the RFC's: rules that are easily got wrong. */
    {"FREQ=WEEKLY;COUNT=4;BYDAY=MO,WE,FR;BYSETPOS=2", "2026-03-04T09:00",
     "03-04 03-11 03-18 03-25"},
    {"FREQ=YEARLY;COUNT=4;BYMONTHDAY=1", "2026-01-01T09:00", "01-01 02-01 03-01 04-01"},
    {"FREQ=YEARLY;COUNT=3;BYWEEKNO=20", "1997-05-12T09:00", "05-12 05-11 05-17"},
    {"FREQ=YEARLY;COUNT=3;BYMONTH=2;BYMONTHDAY=29", "2024-02-29T09:00", "02-29 02-29 02-29"},
    {"FREQ=MONTHLY;COUNT=4;BYDAY=-1FR", "1997-09-26T09:00", "09-26 10-31 11-28 12-26"},
    {"FREQ=DAILY;COUNT=3;BYDAY=SA,SU", "2026-03-07T09:00", "03-07 03-08 03-14"},
    {"freq=daily;count=2", "2026-03-07T09:00", "03-07 03-08"},
    {"FREQ=DAILY;UNTIL=20260308", "2026-03-07T09:00", "03-07 03-08"},
    {"FREQ=DAILY;UNTIL=20260308T085959", "2026-03-07T09:00", "03-07"},
    {"FREQ=DAILY;UNTIL=20260308T090000", "2026-03-07T09:00", "03-07 03-08"},
    {"FREQ=DAILY;UNTIL=20260306", "2026-03-07T09:00", ""},
    /* The start stands first even where the rule does not match it, and uses up one of COUNT. */
    {"FREQ=WEEKLY;COUNT=3;BYDAY=MO", "2026-03-04T09:00", "03-04 03-09 03-16"},
};

static GTimeZone *new_york(void)
{
    GTimeZone *zone = g_time_zone_new_identifier("America/New_York");

    assert_non_null(zone);
    return zone;
}

static Recurrence *begin(const char *rule, const char *start, GTimeZone *zone)
{
    char *why = NULL;
    LocalTime local = {0};

    assert_true(local_parse(start, &local));
    Recurrence *recurrence = recurrence_new(rule, local, zone, &why);
    if (recurrence == NULL) fail_msg("%s: %s", rule, why);
    return recurrence;
}

static void worked_examples(void **state)
{
    g_autoptr(GTimeZone) zone = new_york();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(EXAMPLES); i++) {
        g_auto(GStrv) expected = g_strsplit(EXAMPLES[i].expected, " ", -1);
        g_autoptr(Recurrence) recurrence = begin(EXAMPLES[i].rule, EXAMPLES[i].start, zone);
        LocalTime local;
        int64_t ms;
        LocalKind kind;
        int n = 0;

        for (; expected[n] != NULL && expected[n][0] != '.' && expected[n][0] != '\0'; n++) {
            if (!recurrence_next(recurrence, &local, &ms, &kind))
                fail_msg("%s ends after %d", EXAMPLES[i].rule, n);
            g_autofree char *text = local_format(local);
            if (strncmp(text + 5, expected[n], 5) != 0 || strcmp(text + 11, "09:00") != 0)
                fail_msg("%s: number %d is %s", EXAMPLES[i].rule, n, text);
            assert_true(ms == zone_instant(zone, local, NULL));
        }
        if (expected[n] == NULL || expected[n][0] == '\0')
            assert_false(recurrence_next(recurrence, &local, &ms, &kind));
    }
}

static int count(const char *rule, const char *start, LocalTime *last)
{
    g_autoptr(GTimeZone) zone = new_york();
    g_autoptr(Recurrence) recurrence = begin(rule, start, zone);
    LocalTime local;
    int64_t ms;
    LocalKind kind;
    int n = 0;

    while (n < 10000 && recurrence_next(recurrence, &local, &ms, &kind)) {
        *last = local;
        n++;
    }
    return n;
}

static void every_day_until_christmas(void **state)
{
    g_autoptr(GTimeZone) zone = new_york();
    g_autoptr(Recurrence) recurrence =
        begin("FREQ=DAILY;UNTIL=19971224T000000Z", "1997-09-02T09:00", zone);
    LocalTime local;
    int64_t ms;
    LocalKind kind;
    int summer = 0;
    int winter = 0;

    (void)state;
    while (recurrence_next(recurrence, &local, &ms, &kind)) {
        int64_t in_day = ms - divide_down(ms, DAY_MS) * DAY_MS;
        summer += in_day == 13 * HOUR_MS;
        winter += in_day == 14 * HOUR_MS;
    }
    assert_int_equal(summer, 54);
    assert_int_equal(winter, 59);
}

static void every_january_day_for_three_years(void **state)
{
    LocalTime last = {0};

    (void)state;
    assert_int_equal(
        count("FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1", "1998-01-01T09:00", &last), 93);
    g_autofree char *text = local_format(last);
    assert_string_equal(text, "2000-01-31T09:00");
}

static void several_times_a_day(void **state)
{
    LocalTime last = {0};

    (void)state;
    assert_int_equal(
        count("FREQ=DAILY;UNTIL=19970903T235959;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40",
              "1997-09-02T09:00", &last),
        48);
    g_autofree char *text = local_format(last);
    assert_string_equal(text, "1997-09-03T16:40");
    /* The same by the minute. */
    assert_int_equal(
        count("FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16;UNTIL=19970903T235959",
              "1997-09-02T09:00", &last),
        48);
    assert_int_equal(count("FREQ=MINUTELY;INTERVAL=90;COUNT=4", "1997-09-02T09:00", &last), 4);
    assert_int_equal(last.second, 13 * 3600 + 30 * 60);
}

/* Found by make fuzz TARGET=rule: libical gives it twice. RFC 5545 speaks of a set. */
static void what_is_written_twice_counts_once(void **state)
{
    LocalTime last = {0};

    (void)state;
    assert_int_equal(count("FREQ=YEARLY;BYMINUTE=0,0;COUNT=3", "1997-09-02T09:00", &last), 3);
    g_autofree char *text = local_format(last);
    assert_string_equal(text, "1999-09-02T09:00");
}

static void the_clock_changes_under_a_rule(void **state)
{
    g_autoptr(GTimeZone) zone = new_york();
    g_autoptr(Recurrence) recurrence = begin("FREQ=DAILY;COUNT=3", "2026-03-07T02:30", zone);
    static const char *const UTC[] = {"2026-03-07T07:30:00Z", "2026-03-08T07:30:00Z",
                                      "2026-03-09T06:30:00Z"};
    static const LocalKind KINDS[] = {LOCAL_PLAIN, LOCAL_GAP, LOCAL_PLAIN};

    (void)state;
    for (int i = 0; i < 3; i++) {
        LocalTime local;
        int64_t ms;
        LocalKind kind;

        assert_true(recurrence_next(recurrence, &local, &ms, &kind));
        g_autofree char *utc = instant_format(ms);
        assert_string_equal(utc, UTC[i]);
        assert_int_equal(kind, KINDS[i]);
        assert_int_equal(local.second, 9000);
    }
}

static void a_missing_date_uses_up_its_count(void **state)
{
    g_autoptr(GTimeZone) apia = g_time_zone_new_identifier("Pacific/Apia");
    g_autoptr(Recurrence) recurrence = begin("FREQ=DAILY;COUNT=4", "2011-12-28T09:00", apia);
    static const char *const LOCAL[] = {"2011-12-28T09:00", "2011-12-29T09:00", "2011-12-31T09:00"};
    LocalTime local;
    int64_t ms;
    LocalKind kind;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(LOCAL); i++) {
        assert_true(recurrence_next(recurrence, &local, &ms, &kind));
        g_autofree char *text = local_format(local);
        assert_string_equal(text, LOCAL[i]);
    }
    assert_false(recurrence_next(recurrence, &local, &ms, &kind));
}

static void rules_that_are_refused(void **state)
{
    static const char *const REFUSED[] = {"",
                                          "DAILY",
                                          "COUNT=1",
                                          "FREQ=SOMETIMES",
                                          "FREQ=DAILY;COUNT=-1",
                                          "FREQ=DAILY;COUNT=0",
                                          "FREQ=DAILY;COUNT=x",
                                          "FREQ=DAILY;INTERVAL=0",
                                          "FREQ=DAILY;INTERVAL=99999",
                                          "FREQ=DAILY;COUNT=3;UNTIL=20260401",
                                          "FREQ=DAILY;UNTIL=banana",
                                          "FREQ=DAILY;UNTIL=20260231",
                                          "FREQ=DAILY;COUNT=3;COUNT=4",
                                          "FREQ=WEEKLY;BYDAY=XX",
                                          "FREQ=WEEKLY;BYDAY=2MO",
                                          "FREQ=WEEKLY;BYMONTHDAY=3",
                                          "FREQ=DAILY;BYYEARDAY=3",
                                          "FREQ=MONTHLY;BYWEEKNO=3",
                                          "FREQ=DAILY;BYHOUR=25",
                                          "FREQ=DAILY;BYSETPOS=1",
                                          "FREQ=DAILY;BYMONTHDAY=32",
                                          "FREQ=DAILY;COUNT=2\n",
                                          "FREQ=DAILY ;COUNT=2",
                                          "RRULE:FREQ=DAILY",
                                          "FREQ=MONTHLY;RSCALE=HEBREW",
                                          "FREQ=MONTHLY;SKIP=FORWARD",
                                          "FREQ=MONTHLY;BYMONTH=5L",
                                          "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
                                          "FREQ=MONTHLY;BYHOUR=8,9;BYSETPOS=1",
                                          "FREQ=YEARLY;BYWEEKNO=2;BYMONTH=1",
                                          "FREQ=DAILY;X-EXTRA=1",
                                          "FREQ=YEARLY;BYMINUTE=,0",
                                          "FREQ=DAILY;BYMINUTE=0,,30",
                                          "FREQ=DAILY;BYHOUR=8,;COUNT=2",
                                          "FREQ=DAILY;BYHOUR=8,",
                                          "FREQ=DAILY;BYDAY=M\xc3\x96"};
    g_autoptr(GTimeZone) zone = new_york();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(REFUSED); i++) {
        g_autofree char *why = NULL;
        g_autoptr(Recurrence) recurrence = recurrence_new(REFUSED[i], (LocalTime){0}, zone, &why);

        if (recurrence != NULL) fail_msg("taken: %s", REFUSED[i]);
        assert_non_null(why);
    }
}

static void a_rule_of_501_bytes_is_refused(void **state)
{
    g_autoptr(GTimeZone) zone = new_york();
    g_autoptr(GString) rule = g_string_new("FREQ=DAILY;INTERVAL=");
    g_autofree char *why = NULL;

    (void)state;
    while (rule->len < 500)
        g_string_append_c(rule, '0');
    g_string_append_c(rule, '1');
    assert_null(recurrence_new(rule->str, (LocalTime){0}, zone, &why));
    assert_non_null(strstr(why, "500"));
}

/* Rules whose search would run for hours by brute force end, or arrive, at once. */
static void searches_are_bounded(void **state)
{
    static const char *const EMPTY[] = {
        "FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30", "FREQ=SECONDLY;INTERVAL=2;BYSECOND=31",
        "FREQ=HOURLY;INTERVAL=24;BYHOUR=5",      "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=WEEKLY;BYDAY=MO;BYSETPOS=3",       "FREQ=MINUTELY;BYSETPOS=2;BYSECOND=1"};
    LocalTime last = {0};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(EMPTY); i++)
        assert_int_equal(count(EMPTY[i], "1997-09-02T09:00", &last), 1); /* the start alone */
    assert_int_equal(
        count("FREQ=SECONDLY;BYMONTH=1;UNTIL=19980101T000009", "1997-09-02T09:00", &last), 11);
    assert_int_equal(count("FREQ=YEARLY;INTERVAL=1000", "1997-09-02T09:00", &last), 1);
}

/* Whatever letters arrive, the answer is a rule or a reason. */
static void random_rules_do_no_harm(void **state)
{
    static const char *const PIECES[] = {"FREQ=DAILY",  "FREQ=WEEKLY", "FREQ=MONTHLY",
                                         "FREQ=YEARLY", "FREQ=HOURLY", "FREQ=SECONDLY",
                                         ";",           ";",           ";",
                                         "BYDAY=",      "BYMONTH=",    "BYMONTHDAY=",
                                         "BYHOUR=",     "BYSETPOS=",   "BYWEEKNO=",
                                         "BYYEARDAY=",  "INTERVAL=",   "COUNT=",
                                         "UNTIL=",      "WKST=",       "MO",
                                         "-1FR",        "TU,TH",       "1",
                                         "-1",          "2,15",        "31",
                                         "400",         "0",           "99999999999",
                                         "20260401",    "T000000Z",    "=",
                                         ",",           "-",           "+5"};
    const guint32 seed = 20260302;
    g_autoptr(GTimeZone) zone = new_york();
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);
    int taken = 0;

    (void)state;
    for (int i = 0; i < 20000; i++) {
        g_autoptr(GString) rule = g_string_new(NULL);
        g_autofree char *why = NULL;
        LocalTime local;
        int64_t ms;
        LocalKind kind;

        for (int n = g_rand_int_range(random, 1, 9); n > 0; n--)
            g_string_append(rule, PIECES[g_rand_int_range(random, 0, G_N_ELEMENTS(PIECES))]);
        g_autoptr(Recurrence) recurrence =
            recurrence_new(rule->str, (LocalTime){20000, 30600}, zone, &why);
        if ((recurrence == NULL) != (why != NULL)) fail_msg("seed %u: %s", seed, rule->str);
        for (int n = 0;
             recurrence != NULL && n < 5 && recurrence_next(recurrence, &local, &ms, &kind); n++)
            taken++;
    }
    assert_true(taken > 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(worked_examples),
        cmocka_unit_test(every_day_until_christmas),
        cmocka_unit_test(every_january_day_for_three_years),
        cmocka_unit_test(several_times_a_day),
        cmocka_unit_test(what_is_written_twice_counts_once),
        cmocka_unit_test(the_clock_changes_under_a_rule),
        cmocka_unit_test(a_missing_date_uses_up_its_count),
        cmocka_unit_test(rules_that_are_refused),
        cmocka_unit_test(a_rule_of_501_bytes_is_refused),
        cmocka_unit_test(searches_are_bounded),
        cmocka_unit_test(random_rules_do_no_harm),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
