/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/expansion.h"
#include "core/calendar/plain_rule.h"
#include "core/calendar/sessions.h"

#include <libical/ical.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static Day day(const char *text)
{
    Day read = 0;

    assert_true(day_parse(text, &read));
    return read;
}

static GTimeZone *zone(const char *id)
{
    GTimeZone *found = g_time_zone_new_identifier(id);

    assert_non_null(found);
    return found;
}

/* A plan at 08:30, from Monday 2026-03-02 on. */
static SessionTimes plan(const char *rule)
{
    return (SessionTimes){.rule = rule, .from = day("2026-03-02"), .times = {30600}, .n_times = 1};
}

static char *listing(const SessionTimes *times, const char *zone_id, const char *from, int days)
{
    g_autoptr(GTimeZone) there = zone(zone_id);
    g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    GString *text = g_string_new(NULL);

    sessions_on(times, there, day(from), days, found);
    for (guint i = 0; i < found->len; i++) {
        const SessionInstant *session = &g_array_index(found, SessionInstant, i);
        g_autofree char *date = day_format(session->date);

        assert_int_equal(session->date, session->local.day);
        assert_true(session->ms == zone_instant(there, session->local, NULL));
        g_string_append_printf(text, "%s%s/%d", i > 0 ? " " : "", date + 5, session->slot);
    }
    return g_string_free(text, FALSE);
}

static void assert_listing(const SessionTimes *times, const char *zone_id, const char *from,
                           int days, const char *expected)
{
    g_autofree char *text = listing(times, zone_id, from, days);

    assert_string_equal(text, expected);
}

static void no_rule_is_every_day(void **state)
{
    SessionTimes twice = plan(NULL);

    (void)state;
    twice.times[1] = 66600;
    twice.n_times = 2;
    assert_listing(&twice, "Europe/London", "2026-03-02", 2, "03-02/1 03-02/2 03-03/1 03-03/2");
    assert_listing(&twice, "Europe/London", "2026-02-27", 4, "03-02/1 03-02/2");
    assert_listing(&twice, "Europe/London", "2026-03-02", 0, "");
    twice.to = day("2026-03-03");
    assert_listing(&twice, "Europe/London", "2026-03-03", 5, "03-03/1 03-03/2");
}

static void intervals_and_counts_hold_from_the_start_of_the_plan(void **state)
{
    SessionTimes second_week = plan("FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,FR");
    SessionTimes five = plan("FREQ=DAILY;INTERVAL=3;COUNT=5");

    (void)state;
    assert_listing(&second_week, "Europe/London", "2026-03-07", 21, "03-16/1 03-20/1");
    assert_listing(&five, "Europe/London", "2026-03-07", 60, "03-08/1 03-11/1 03-14/1");
}

static void a_start_off_the_rule_gives_no_session(void **state)
{
    SessionTimes fridays = plan("FREQ=WEEKLY;BYDAY=FR;COUNT=2");

    (void)state;
    assert_listing(&fridays, "Europe/London", "2026-03-01", 60, "03-06/1 03-13/1");
}

static void a_rule_with_times_gives_its_dates_once(void **state)
{
    SessionTimes hourly = plan("FREQ=HOURLY;INTERVAL=36");
    SessionTimes by_hour = plan("FREQ=DAILY;INTERVAL=2;BYHOUR=6,12,18");
    SessionTimes counted = plan("FREQ=HOURLY;COUNT=30");

    (void)state;
    assert_listing(&hourly, "Europe/London", "2026-03-02", 7,
                   "03-02/1 03-03/1 03-05/1 03-06/1 03-08/1");
    assert_listing(&by_hour, "Europe/London", "2026-03-02", 5, "03-02/1 03-04/1 03-06/1");
    assert_listing(&counted, "Europe/London", "2026-03-02", 9, "03-02/1 03-03/1");
}

/* 17:00 UTC is 18:00 in Paris: the morning session of that day still counts, the evening one does
 * not. */
static void until_bounds_each_session(void **state)
{
    SessionTimes twice = plan("FREQ=DAILY;UNTIL=20260304T170000Z");

    (void)state;
    twice.times[1] = 66600;
    twice.n_times = 2;
    assert_listing(&twice, "Europe/Paris", "2026-03-03", 9, "03-03/1 03-03/2 03-04/1");
}

static void a_date_that_does_not_exist_has_no_session(void **state)
{
    SessionTimes daily = {.from = day("2011-12-28"), .times = {30600}, .n_times = 1};
    g_autoptr(GTimeZone) apia = zone("Pacific/Apia");
    SessionInstant next;

    (void)state;
    assert_listing(&daily, "Pacific/Apia", "2011-12-28", 5, "12-28/1 12-29/1 12-31/1 01-01/1");
    int64_t before = zone_instant(apia, (LocalTime){day("2011-12-29"), 30600}, NULL);
    assert_true(sessions_after(&daily, apia, before, &next));
    assert_int_equal(next.date, day("2011-12-31"));
}

static void clock_changes(void **state)
{
    SessionTimes early = {.from = day("2026-03-28"), .times = {5400}, .n_times = 1};
    g_autoptr(GTimeZone) london = zone("Europe/London");
    SessionInstant next;
    int64_t ms;

    (void)state;
    assert_true(instant_parse("2026-03-28T12:00:00Z", &ms));
    assert_true(sessions_after(&early, london, ms, &next));
    assert_int_equal(next.kind, LOCAL_GAP);
    assert_true(next.ms == zone_instant(london, (LocalTime){day("2026-03-29"), 9000}, NULL));
    assert_true(instant_parse("2026-10-25T00:29:59.999Z", &ms));
    assert_true(sessions_after(&early, london, ms, &next));
    assert_true(next.ms == ms + 1);
    /* The second 01:30 of that night is not asked again. */
    assert_true(sessions_after(&early, london, next.ms, &next));
    assert_int_equal(next.date, day("2026-10-26"));
}

static void the_end_of_a_plan(void **state)
{
    SessionTimes ended = plan("FREQ=DAILY;COUNT=3");
    g_autoptr(GTimeZone) london = zone("Europe/London");
    SessionInstant next;

    (void)state;
    assert_true(sessions_after(&ended, london, 0, &next));
    assert_int_equal(next.date, day("2026-03-02"));
    int64_t last = zone_instant(london, (LocalTime){day("2026-03-04"), 30600}, NULL);
    assert_true(sessions_after(&ended, london, last - 1, &next));
    assert_false(sessions_after(&ended, london, last, &next));
    ended.rule = "FREQ=NEVER";
    assert_false(sessions_after(&ended, london, 0, &next));
    ended.rule = NULL;
    ended.n_times = 0;
    assert_false(sessions_after(&ended, london, 0, &next));
}

static const char *const WEEKDAYS[] = {"MO", "TU", "WE", "TH", "FR", "SA", "SU"};

static void append_weekdays(GRand *random, GString *rule)
{
    int first = g_rand_int_range(random, 0, 7);
    int n = g_rand_int_range(random, 1, 5);

    g_string_append(rule, ";BYDAY=");
    for (int i = 0; i < n; i++)
        g_string_append_printf(rule, "%s%s", i > 0 ? "," : "", WEEKDAYS[(first + i * 2) % 7]);
}

/* The rules that plans really have, and some that they may. */
static char *random_rule(GRand *random)
{
    static const char *const FREQUENCIES[] = {"DAILY",  "DAILY",  "WEEKLY",
                                              "WEEKLY", "WEEKLY", "MONTHLY"};
    const char *frequency = FREQUENCIES[g_rand_int_range(random, 0, G_N_ELEMENTS(FREQUENCIES))];
    GString *rule = g_string_new("FREQ=");

    g_string_append(rule, frequency);
    if (g_rand_boolean(random))
        g_string_append_printf(rule, ";INTERVAL=%d", g_rand_int_range(random, 1, 15));
    if (g_rand_boolean(random)) /* libical 3.0 loses dates with other weekdays here */
        g_string_append(rule, g_rand_boolean(random) ? ";WKST=MO" : ";WKST=SU");
    if (strcmp(frequency, "MONTHLY") != 0 && g_rand_boolean(random)) append_weekdays(random, rule);
    if (strcmp(frequency, "MONTHLY") == 0)
        g_string_append_printf(rule, ";BYMONTHDAY=%d", g_rand_int_range(random, 1, 29));
    if (g_rand_int_range(random, 0, 5) == 0)
        g_string_append_printf(rule, ";BYMONTH=%d", g_rand_int_range(random, 1, 13));
    switch (g_rand_int_range(random, 0, 3)) {
    case 0: g_string_append_printf(rule, ";COUNT=%d", g_rand_int_range(random, 1, 200)); break;
    case 1:
        g_string_append_printf(rule, ";UNTIL=202%d0%d15", g_rand_int_range(random, 5, 9),
                               g_rand_int_range(random, 1, 10));
        break;
    default: break;
    }
    return g_string_free(rule, FALSE);
}

/* All dates that libical gives for the rule in four years, at midnight. */
static GArray *dates_by_libical(const char *rule, Day from)
{
    GArray *dates = g_array_new(FALSE, FALSE, sizeof(Day));
    struct icalrecurrencetype parts = icalrecurrencetype_from_string(rule);
    struct icaltimetype start = {.is_date = 1};

    day_to_civil(from, &start.year, &start.month, &start.day);
    icalrecur_iterator *iterator = icalrecur_iterator_new(parts, start);
    assert_non_null(iterator);
    for (;;) {
        struct icaltimetype date = icalrecur_iterator_next(iterator);
        Day found;

        if (icaltime_is_null_time(date) ||
            !day_from_civil(date.year, date.month, date.day, &found) || found > from + 1460)
            break;
        g_array_append_val(dates, found);
    }
    icalrecur_iterator_free(iterator);
    return dates;
}

static void check_rule(GRand *random, guint32 seed, const char *rule, GTimeZone *there)
{
    SessionTimes times = plan(rule);
    g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    SessionInstant next;

    times.from += g_rand_int_range(random, -400, 400);
    /* From a start that the rule matches, as RFC 5545 asks: libical 3.0 may put another into the
     * wrong week. */
    if (!sessions_after(&times, there, 0, &next)) return;
    times.from = next.date;
    g_autoptr(GArray) expected = dates_by_libical(rule, times.from);
    sessions_on(&times, there, times.from, 1461, found);
    if (found->len != expected->len)
        fail_msg("seed %u: %s from %d: %u sessions, libical %u", seed, rule, times.from, found->len,
                 expected->len);
    for (guint i = 0; i < found->len; i++)
        if (g_array_index(found, SessionInstant, i).date != g_array_index(expected, Day, i))
            fail_msg("seed %u: %s from %d: session %u differs", seed, rule, times.from, i);
    for (int i = 0; i < 20 && found->len > 0; i++) {
        guint at = (guint)g_rand_int_range(random, 0, (gint32)found->len);
        const SessionInstant *session = &g_array_index(found, SessionInstant, at);

        assert_true(sessions_after(&times, there, session->ms - 1, &next));
        assert_true(next.ms == session->ms);
        if (at + 1 < found->len) {
            assert_true(sessions_after(&times, there, session->ms, &next));
            assert_true(next.ms == g_array_index(found, SessionInstant, at + 1).ms);
        }
    }
}

static void arithmetic_and_libical_agree_on_random_rules(void **state)
{
    const guint32 seed = 20260302;
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);
    g_autoptr(GTimeZone) there = zone("America/Santiago");

    (void)state;
    for (int i = 0; i < 500; i++) {
        g_autofree char *rule = random_rule(random);
        check_rule(random, seed, rule, there);
    }
}

/* Every date of a rule in four years by the expansion, which is tested against libical, whatever weekday the plan begins
 * on. */
static void check_plain(GRand *random, guint32 seed, const char *text)
{
    g_autofree char *why = NULL;
    PlainRule plain;
    Rule rule;
    Day from = g_rand_int_range(random, 18000, 24000), seek = from;

    assert_true(plain_rule_read(text, from, &plain));
    assert_true(rule_parse(text, &rule, &why));
    g_autoptr(Expansion) expansion = expansion_new(&rule, (LocalTime){.day = from});
    for (Day date = from; date < from + 1460; seek = date + 1) {
        LocalTime local;
        bool more = expansion_next(expansion, &local);
        assert_int_equal(plain_rule_next(&plain, seek, &date), more);
        if (!more) break;
        if (date != local.day)
            fail_msg("seed %u: %s from %d: %d, expanded %d", seed, text, from, date, local.day);
    }
}

static void plain_rules_are_what_their_expansions_are(void **state)
{
    const guint32 seed = 20260331;
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);

    (void)state;
    for (int i = 0; i < 3000; i++) {
        bool weekly = g_rand_boolean(random);
        GString *rule = g_string_new(weekly ? "FREQ=WEEKLY" : "FREQ=DAILY");

        if (g_rand_boolean(random))
            g_string_append_printf(rule, ";INTERVAL=%d", g_rand_int_range(random, 1, 40));
        if (g_rand_boolean(random)) append_weekdays(random, rule);
        if (g_rand_boolean(random))
            g_string_append_printf(rule, ";WKST=%s", WEEKDAYS[g_rand_int_range(random, 0, 7)]);
        check_plain(random, seed, rule->str);
        g_string_free(rule, TRUE);
    }
}

static void what_is_not_plain_is_left_to_libical(void **state)
{
    static const char *const OTHERS[] = {"",
                                         "FREQ=",
                                         "FREQ=DAILY;",
                                         ";FREQ=DAILY",
                                         "freq=daily",
                                         "FREQ=DAILYISH",
                                         "FREQ=MONTHLY",
                                         "INTERVAL=2",
                                         "FREQ=DAILY;FREQ=DAILY",
                                         "FREQ=DAILY;COUNT=3",
                                         "FREQ=DAILY;UNTIL=20260401",
                                         "FREQ=DAILY;INTERVAL=0",
                                         "FREQ=DAILY;INTERVAL=",
                                         "FREQ=DAILY;INTERVAL=1000",
                                         "FREQ=DAILY;INTERVAL=-1",
                                         "FREQ=WEEKLY;BYDAY=",
                                         "FREQ=WEEKLY;BYDAY=MO,",
                                         "FREQ=WEEKLY;BYDAY=1MO",
                                         "FREQ=WEEKLY;BYDAY=MONDAY",
                                         "FREQ=WEEKLY;BYMONTH=3",
                                         "FREQ=WEEKLY;WKST=XX"};
    PlainRule rule;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(OTHERS); i++)
        assert_false(plain_rule_read(OTHERS[i], 20000, &rule));
    assert_true(plain_rule_read(NULL, 20000, &rule));
}

/* The stretch that a job keeps of a zone changes nothing but the time it takes. */
static void a_stretch_changes_no_session(void **state)
{
    static const char *const ODD[] = {"Europe/London",       "Europe/Dublin",  "America/Santiago",
                                      "Australia/Lord_Howe", "Pacific/Apia",   "Africa/Casablanca",
                                      "Asia/Gaza",           "America/Havana", "Antarctica/Troll"};
    const guint32 seed = 20260401;
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++) {
        g_autoptr(GTimeZone) there = zone(ODD[i]);
        ZoneStretch stretch = {0};
        for (int k = 0; k < 12; k++) {
            g_autofree char *rule = random_rule(random);
            g_autoptr(GArray) apart = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
            g_autoptr(GArray) near = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
            SessionTimes times = plan(rule);
            times.from = g_rand_int_range(random, 14000, 24800);
            times.n_times = 3;
            times.times[0] = 30 * 60;
            times.times[1] = 2 * 3600 + 30 * 60;
            times.times[2] = 23 * 3600 + 30 * 60;
            sessions_on(&times, there, times.from, 730, apart);
            times.near = &stretch;
            sessions_on(&times, there, times.from, 730, near);
            assert_int_equal(near->len, apart->len);
            assert_memory_equal(near->data, apart->data, near->len * sizeof(SessionInstant));
        }
    }
}

/* A plan of long ago costs no more than one of yesterday: the walk would take thousands of steps.
 */
static void an_old_plan_is_as_quick_as_a_new_one(void **state)
{
    g_autoptr(GTimeZone) london = zone("Europe/London");
    SessionTimes old = plan("FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,WE,FR;WKST=SU");
    SessionTimes new = old;
    SessionInstant next;
    int64_t ms;
    gint64 spent[2];

    (void)state;
    assert_true(instant_parse("2026-03-02T12:00:00Z", &ms));
    old.from = day("0001-01-01");
    for (int which = 0; which < 2; which++) {
        gint64 begin = g_get_monotonic_time();
        for (int i = 0; i < 2000; i++)
            assert_true(sessions_after(which == 0 ? &old : &new, london, ms + i * HOUR_MS, &next));
        spent[which] = g_get_monotonic_time() - begin;
    }
    print_message("sessions_after: %.1f us for an old plan, %.1f us for a new one\n",
                  (double)spent[0] / 2000, (double)spent[1] / 2000);
    assert_true(spent[0] < 20 * spent[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_rule_is_every_day),
        cmocka_unit_test(intervals_and_counts_hold_from_the_start_of_the_plan),
        cmocka_unit_test(a_start_off_the_rule_gives_no_session),
        cmocka_unit_test(a_rule_with_times_gives_its_dates_once),
        cmocka_unit_test(until_bounds_each_session),
        cmocka_unit_test(a_date_that_does_not_exist_has_no_session),
        cmocka_unit_test(clock_changes),
        cmocka_unit_test(the_end_of_a_plan),
        cmocka_unit_test(arithmetic_and_libical_agree_on_random_rules),
        cmocka_unit_test(plain_rules_are_what_their_expansions_are),
        cmocka_unit_test(what_is_not_plain_is_left_to_libical),
        cmocka_unit_test(a_stretch_changes_no_session),
        cmocka_unit_test(an_old_plan_is_as_quick_as_a_new_one),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
