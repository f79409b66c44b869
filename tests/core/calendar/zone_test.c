/* SPDX-License-Identifier: Apache-2.0 */
/* The rows follow the time zone database, release 2026f; where a government changes its mind, so
 * must they. */
#include "core/calendar/zone.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    const char *zone;
    const char *local;
    LocalKind kind;
    const char *instant; /* by RFC 5545 3.3.5 */
    const char *shown;   /* what a clock there shows at that instant */
    const char *other;   /* the other reading, which must not be taken; NULL where there is none */
} OddTime;

/* The two of New York in 2007 are the RFC's own examples. */
static const OddTime ODD_TIMES[] = {
    {"America/New_York", "2007-11-04T01:30", LOCAL_OVERLAP, "2007-11-04T05:30:00Z",
     "2007-11-04T01:30", "2007-11-04T06:30:00Z"},
    {"America/New_York", "2007-03-11T02:30", LOCAL_GAP, "2007-03-11T07:30:00Z", "2007-03-11T03:30",
     "2007-03-11T06:30:00Z"},
    {"America/New_York", "2026-03-08T02:30", LOCAL_GAP, "2026-03-08T07:30:00Z", "2026-03-08T03:30",
     "2026-03-08T06:30:00Z"},
    {"America/New_York", "2026-11-01T01:30", LOCAL_OVERLAP, "2026-11-01T05:30:00Z",
     "2026-11-01T01:30", "2026-11-01T06:30:00Z"},
    {"Europe/London", "2026-03-29T01:30", LOCAL_GAP, "2026-03-29T01:30:00Z", "2026-03-29T02:30",
     "2026-03-29T00:30:00Z"},
    {"Europe/London", "2026-10-25T01:30", LOCAL_OVERLAP, "2026-10-25T00:30:00Z", "2026-10-25T01:30",
     "2026-10-25T01:30:00Z"},
    {"Europe/Dublin", "2026-03-29T01:30", LOCAL_GAP, "2026-03-29T01:30:00Z", "2026-03-29T02:30",
     "2026-03-29T00:30:00Z"},
    {"Europe/Dublin", "2026-10-25T01:30", LOCAL_OVERLAP, "2026-10-25T00:30:00Z", "2026-10-25T01:30",
     "2026-10-25T01:30:00Z"},
    {"Australia/Lord_Howe", "2025-10-05T02:15", LOCAL_GAP, "2025-10-04T15:45:00Z",
     "2025-10-05T02:45", "2025-10-04T15:15:00Z"},
    {"Australia/Lord_Howe", "2025-04-06T01:45", LOCAL_OVERLAP, "2025-04-05T14:45:00Z",
     "2025-04-06T01:45", "2025-04-05T15:15:00Z"},
    {"Pacific/Apia", "2011-12-30T09:00", LOCAL_MISSING, "2011-12-30T19:00:00Z", "2011-12-31T09:00",
     "2011-12-29T19:00:00Z"},
    {"America/Sao_Paulo", "2018-11-04T00:30", LOCAL_GAP, "2018-11-04T03:30:00Z", "2018-11-04T01:30",
     "2018-11-04T02:30:00Z"},
    {"America/Sao_Paulo", "2018-02-17T23:30", LOCAL_OVERLAP, "2018-02-18T01:30:00Z",
     "2018-02-17T23:30", "2018-02-18T02:30:00Z"},
    {"Africa/Casablanca", "2026-02-15T02:30", LOCAL_OVERLAP, "2026-02-15T01:30:00Z",
     "2026-02-15T02:30", "2026-02-15T02:30:00Z"},
    {"Africa/Casablanca", "2026-03-22T02:30", LOCAL_GAP, "2026-03-22T02:30:00Z", "2026-03-22T03:30",
     "2026-03-22T01:30:00Z"},
    {"Asia/Gaza", "2026-03-28T02:30", LOCAL_GAP, "2026-03-28T00:30:00Z", "2026-03-28T03:30",
     "2026-03-27T23:30:00Z"},
    {"Asia/Gaza", "2026-10-24T01:30", LOCAL_OVERLAP, "2026-10-23T22:30:00Z", "2026-10-24T01:30",
     "2026-10-23T23:30:00Z"},
    {"Antarctica/Troll", "2025-03-30T02:30", LOCAL_GAP, "2025-03-30T02:30:00Z", "2025-03-30T04:30",
     "2025-03-30T00:30:00Z"},
    {"Antarctica/Troll", "2025-10-26T01:30", LOCAL_OVERLAP, "2025-10-25T23:30:00Z",
     "2025-10-26T01:30", "2025-10-26T01:30:00Z"},
    {"Africa/Cairo", "2026-04-24T00:30", LOCAL_GAP, "2026-04-23T22:30:00Z", "2026-04-24T01:30",
     "2026-04-23T21:30:00Z"},
    {"America/Santiago", "2026-09-06T00:30", LOCAL_GAP, "2026-09-06T04:30:00Z", "2026-09-06T01:30",
     "2026-09-06T03:30:00Z"},
    {"America/Havana", "2025-11-02T00:30", LOCAL_OVERLAP, "2025-11-02T04:30:00Z",
     "2025-11-02T00:30", "2025-11-02T05:30:00Z"},
    {"Pacific/Chatham", "2026-09-27T03:00", LOCAL_GAP, "2026-09-26T14:15:00Z", "2026-09-27T04:00",
     "2026-09-26T13:15:00Z"},
    {"America/Nuuk", "2026-03-28T23:30", LOCAL_GAP, "2026-03-29T01:30:00Z", "2026-03-29T00:30",
     "2026-03-29T00:30:00Z"},
    {"Pacific/Kiritimati", "1994-12-31T09:00", LOCAL_MISSING, "1994-12-31T19:00:00Z",
     "1995-01-01T09:00", "1994-12-30T19:00:00Z"},
    {"Asia/Pyongyang", "2018-05-04T23:45", LOCAL_GAP, "2018-05-04T15:15:00Z", "2018-05-05T00:15",
     "2018-05-04T14:45:00Z"},
    {"Asia/Kathmandu", "2026-01-01T09:00", LOCAL_PLAIN, "2026-01-01T03:15:00Z", "2026-01-01T09:00",
     NULL},
    /* Past the end of the zone files: the rule in force in 2037 goes on. */
    {"Europe/London", "2053-03-30T01:30", LOCAL_GAP, "2053-03-30T01:30:00Z", "2053-03-30T02:30",
     "2053-03-30T00:30:00Z"},
    {"Europe/London", "2400-02-29T08:00", LOCAL_PLAIN, "2400-02-29T08:00:00Z", "2400-02-29T08:00",
     NULL},
    {"America/New_York", "2045-11-05T01:30", LOCAL_OVERLAP, "2045-11-05T05:30:00Z",
     "2045-11-05T01:30", "2045-11-05T06:30:00Z"},
    {"Australia/Sydney", "2051-01-01T08:00", LOCAL_PLAIN, "2050-12-31T21:00:00Z",
     "2051-01-01T08:00", NULL},
};

/* What governments changed of late: an older release does not know it yet. */
#define LATE_RELEASE "2026f"
static const OddTime LATE_TIMES[] = {
    {"Africa/Casablanca", "2026-09-20T01:30", LOCAL_OVERLAP, "2026-09-20T00:30:00Z",
     "2026-09-20T01:30", "2026-09-20T01:30:00Z"},
    {"America/Edmonton", "2026-11-01T01:30", LOCAL_PLAIN, "2026-11-01T07:30:00Z",
     "2026-11-01T01:30", NULL},
    {"America/Vancouver", "2026-11-01T01:30", LOCAL_PLAIN, "2026-11-01T08:30:00Z",
     "2026-11-01T01:30", NULL},
};

/* Where many of the world's clinics are, and every kind of zone above. */
static const char *const ZONES[] = {"UTC",
                                    "Europe/London",
                                    "Europe/Dublin",
                                    "Europe/Lisbon",
                                    "Europe/Paris",
                                    "Europe/Helsinki",
                                    "Europe/Moscow",
                                    "Europe/Istanbul",
                                    "Africa/Casablanca",
                                    "Africa/Cairo",
                                    "Africa/Windhoek",
                                    "Africa/Juba",
                                    "Asia/Gaza",
                                    "Asia/Beirut",
                                    "Asia/Tehran",
                                    "Asia/Kathmandu",
                                    "Asia/Kolkata",
                                    "Asia/Pyongyang",
                                    "Asia/Tokyo",
                                    "Asia/Amman",
                                    "Australia/Sydney",
                                    "Australia/Lord_Howe",
                                    "Australia/Perth",
                                    "Pacific/Auckland",
                                    "Pacific/Chatham",
                                    "Pacific/Apia",
                                    "Pacific/Kwajalein",
                                    "Pacific/Fiji",
                                    "Antarctica/Troll",
                                    "America/New_York",
                                    "America/St_Johns",
                                    "America/Sao_Paulo",
                                    "America/Santiago",
                                    "America/Havana",
                                    "America/Caracas",
                                    "America/Nuuk",
                                    "America/Vancouver",
                                    "America/Anchorage"};

static GTimeZone *zone(const char *id)
{
    GTimeZone *found = g_time_zone_new_identifier(id);

    if (found == NULL) fail_msg("no zone %s on this machine", id);
    return found;
}

typedef struct {
    char name[8];
} Release;

/* The release of this machine's zones, "2025b" or later, by the first line of their own source. */
static Release release(void)
{
    g_autofree char *text = NULL;
    int year;
    char letter;
    Release here;

    if (!g_file_get_contents("/usr/share/zoneinfo/tzdata.zi", &text, NULL, NULL) ||
        sscanf(text, "# version %4d%c", &year, &letter) != 2)
        fail_msg("/usr/share/zoneinfo/tzdata.zi does not tell its release");
    g_snprintf(here.name, sizeof here.name, "%d%c", year, letter);
    return here;
}

static void check_time(const OddTime *row)
{
    g_autoptr(GTimeZone) there = zone(row->zone);
    LocalTime local;
    LocalKind kind;

    assert_true(local_parse(row->local, &local));
    int64_t ms = zone_instant(there, local, &kind);
    g_autofree char *instant = instant_format(ms);
    g_autofree char *shown = local_format(zone_local(there, ms));

    if (strcmp(instant, row->instant) != 0 || kind != row->kind || strcmp(shown, row->shown) != 0)
        fail_msg("%s %s: %s, %s, %s", row->zone, row->local, instant, local_kind_name(kind), shown);
    if (row->other != NULL) assert_string_not_equal(instant, row->other);
}

static void every_odd_time_has_one_reading(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD_TIMES); i++)
        check_time(&ODD_TIMES[i]);
}

static void what_governments_changed_of_late(void **state)
{
    Release here = release();

    (void)state;
    if (strcmp(here.name, LATE_RELEASE) < 0) {
        print_message("needs the zones of " LATE_RELEASE ", here are those of %s\n", here.name);
        skip();
    }
    for (size_t i = 0; i < G_N_ELEMENTS(LATE_TIMES); i++)
        check_time(&LATE_TIMES[i]);
}

static void a_missing_kind_is_no_fault(void **state)
{
    g_autoptr(GTimeZone) utc = zone("UTC");

    (void)state;
    assert_true(zone_instant(utc, (LocalTime){.day = 1, .second = 5}, NULL) == DAY_MS + 5000);
    assert_string_equal(local_kind_name(LOCAL_PLAIN), "plain");
    assert_string_equal(local_kind_name(LOCAL_GAP), "gap");
    assert_string_equal(local_kind_name(LOCAL_OVERLAP), "overlap");
    assert_string_equal(local_kind_name(LOCAL_MISSING), "missing");
}

static int64_t offset_at(GTimeZone *there, int64_t utc)
{
    return g_time_zone_get_offset(there,
                                  g_time_zone_find_interval(there, G_TIME_TYPE_UNIVERSAL, utc));
}

/* The plain search: every offset by the quarter of an hour, the first instant at which it holds. */
static bool search(GTimeZone *there, int64_t wall, int64_t *first, int *readings)
{
    *readings = 0;
    for (int64_t offset = 15 * 3600; offset >= -15 * 3600; offset -= 900)
        if (offset_at(there, wall - offset) == offset) {
            if (*readings == 0) *first = wall - offset;
            (*readings)++;
        }
    return *readings > 0;
}

static void check_around(GTimeZone *there, const char *id, int64_t transition, int64_t before,
                         int64_t after)
{
    for (int64_t shift = -3 * 3600; shift <= 3 * 3600; shift += 450) {
        int64_t wall = transition + MAX(before, after) + shift;
        LocalTime local = {.day = (Day)divide_down(wall, 86400)};
        int64_t first = wall - before; /* in a gap: the offset before it */
        int readings;
        LocalKind kind;

        local.second = (int32_t)(wall - local.day * INT64_C(86400));
        bool exists = search(there, wall, &first, &readings);
        int64_t ms = zone_instant(there, local, &kind);
        LocalTime back = zone_local(there, ms);

        if (ms != first * SECOND_MS)
            fail_msg("%s: %" G_GINT64_FORMAT " read as %" G_GINT64_FORMAT, id, wall,
                     ms / SECOND_MS);
        if (exists) {
            assert_int_equal(kind, readings > 1 ? LOCAL_OVERLAP : LOCAL_PLAIN);
            assert_true(back.day == local.day && back.second == local.second);
        } else {
            assert_true(kind == LOCAL_GAP || kind == LOCAL_MISSING);
        }
    }
}

static void every_transition_agrees_with_a_plain_search(void **state)
{
    const int64_t begin = INT64_C(946684800); /* 2000 */
    const int64_t end = INT64_C(1925000000);  /* 2031 */
    int transitions = 0;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ZONES); i++) {
        g_autoptr(GTimeZone) there = zone(ZONES[i]);

        for (int64_t hour = begin; hour < end; hour += 3600) {
            int64_t low = hour;
            int64_t high = hour + 3600;
            int64_t before = offset_at(there, low);

            if (offset_at(there, high) == before) continue;
            while (high - low > 1) {
                int64_t middle = low + (high - low) / 2;
                if (offset_at(there, middle) == before)
                    low = middle;
                else
                    high = middle;
            }
            check_around(there, ZONES[i], high, before, offset_at(there, high));
            transitions++;
        }
    }
    assert_true(transitions > 1000);
}

static void local_and_back_over_a_century(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ZONES); i++) {
        g_autoptr(GTimeZone) there = zone(ZONES[i]);

        for (int64_t ms = 0; ms < 36525 * DAY_MS;
             ms += 7 * DAY_MS + 5 * HOUR_MS + 17 * MINUTE_MS + 1) {
            LocalKind kind;
            LocalTime local = zone_local(there, ms);
            int64_t again = zone_instant(there, local, &kind);

            /* A clock never shows a time in a gap; the second pass of an overlap reads as the
             * first. */
            assert_true(kind == LOCAL_PLAIN || kind == LOCAL_OVERLAP);
            if (kind == LOCAL_PLAIN)
                assert_true(again == divide_down(ms, SECOND_MS) * SECOND_MS);
            else
                assert_true(again <= ms && ms - again <= 3 * HOUR_MS);
        }
    }
}

/* From 1800 to 2100, near changes as well as far from them, by one stretch that is led about. */
static void a_stretch_answers_as_the_zone_does(void **state)
{
    const guint32 seed = 20260330;
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ZONES); i++) {
        g_autoptr(GTimeZone) there = zone(ZONES[i]);
        ZoneStretch near = {0};
        int64_t at = 0;
        for (int k = 0; k < 4000; k++) {
            int64_t far = INT64_C(86400) * g_rand_int_range(random, -62000, 47500);
            at = k % 8 == 0 ? far + g_rand_int_range(random, 0, 86400)
                            : at + g_rand_int_range(random, -400000, 400000);
            LocalTime local = {.day = (Day)divide_down(at, 86400)};
            LocalKind kind, other;
            local.second = (int32_t)(at - local.day * INT64_C(86400));
            int64_t ms = zone_instant(there, local, &kind);
            if (zone_instant_near(&near, there, local, &other) != ms || other != kind)
                fail_msg("seed %u: %s, second %" G_GINT64_FORMAT, seed, ZONES[i], at);
            LocalTime shown = zone_local(there, ms), same = zone_local_near(&near, there, ms);
            assert_int_equal(same.day, shown.day);
            assert_int_equal(same.second, shown.second);
        }
    }
}

/* One stretch asked about two zones must not mix them up. */
static void a_stretch_knows_its_zone(void **state)
{
    g_autoptr(GTimeZone) london = zone("Europe/London");
    g_autoptr(GTimeZone) kathmandu = zone("Asia/Kathmandu");
    ZoneStretch near = {0};
    LocalTime local;

    (void)state;
    assert_true(local_parse("2026-03-02T08:30", &local));
    for (int i = 0; i < 3; i++) {
        assert_true(zone_instant_near(&near, london, local, NULL) ==
                    zone_instant(london, local, NULL));
        assert_true(zone_instant_near(&near, kathmandu, local, NULL) ==
                    zone_instant(kathmandu, local, NULL));
    }
}

static void instants_before_1970_round_down(void **state)
{
    g_autoptr(GTimeZone) utc = zone("UTC");
    LocalTime local = zone_local(utc, -1);

    (void)state;
    assert_int_equal(local.day, -1);
    assert_int_equal(local.second, 86399);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_odd_time_has_one_reading),
        cmocka_unit_test(what_governments_changed_of_late),
        cmocka_unit_test(a_missing_kind_is_no_fault),
        cmocka_unit_test(every_transition_agrees_with_a_plain_search),
        cmocka_unit_test(local_and_back_over_a_century),
        cmocka_unit_test(a_stretch_answers_as_the_zone_does),
        cmocka_unit_test(a_stretch_knows_its_zone),
        cmocka_unit_test(instants_before_1970_round_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
