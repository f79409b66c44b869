/* SPDX-License-Identifier: Apache-2.0 */
/* A rule steps from unit to unit (second, minute, hour, day, week; for monthly and yearly rules:
 * the dates that libical finds) and matches a set of times within each. Up to the week a unit has a
 * fixed length, so steps are plain arithmetic: that makes seeking cheap and bounds the search, and
 * it does what RFC 5545 says where libical 3.0 does not (INTERVAL beside a BY part of the same
 * size, BYSETPOS in weekly rules, rules by the second that match nothing). Months and years are
 * libical's. */
#include "core/calendar/expansion.h"

#define STEPS_MAX 100000
#define DAY_SECONDS INT64_C(86400)
#define WEEK_SECONDS (7 * DAY_SECONDS)

struct Expansion {
    const Rule *rule;
    LocalTime start;
    int64_t unit;              /* length in seconds */
    int64_t origin;            /* where unit 0 begins, in local seconds since 1970 */
    int64_t index;             /* the next unit to look at */
    icalrecur_iterator *dates; /* monthly and yearly rules: where the next unit is found */
    bool more_dates;           /* index is a date not yet looked at */
    GArray *offsets; /* of int32_t: seconds in the unit, rising, before the day is looked at */
    GArray *matches; /* of int64_t: what is left to hand out, in local seconds since 1970 */
    guint taken;
};

static int64_t local_seconds(LocalTime local)
{
    return local.day * DAY_SECONDS + local.second;
}

/* The values of a BY part, or the one that the start lends. */
static void values(GArray *into, const short *list, int size, int otherwise, int greatest)
{
    for (int i = 0; i < size && list[i] != ICAL_RECURRENCE_ARRAY_MAX; i++) {
        int value = MIN(list[i], greatest); /* RFC 5545 3.3.5: second 60 is read as 59 */
        g_array_append_val(into, value);
    }
    if (into->len == 0) g_array_append_val(into, otherwise);
}

static int by_value(const void *a, const void *b)
{
    int32_t left = *(const int32_t *)a;
    int32_t right = *(const int32_t *)b;

    return (left > right) - (left < right);
}

static void sort_without_repeats(GArray *list)
{
    guint kept = 0;

    g_array_sort(list, by_value);
    for (guint i = 0; i < list->len; i++)
        if (i == 0 || g_array_index(list, int32_t, i) != g_array_index(list, int32_t, kept - 1))
            g_array_index(list, int32_t, kept++) = g_array_index(list, int32_t, i);
    g_array_set_size(list, kept);
}

/* Replaces each offset by its sums with the values of the next smaller part. */
static void spread(GArray *offsets, const short *list, int size, int otherwise, int greatest,
                   int seconds)
{
    g_autoptr(GArray) coarse = g_array_copy(offsets);
    g_autoptr(GArray) fine = g_array_new(FALSE, FALSE, sizeof(int));

    values(fine, list, size, otherwise, greatest);
    g_array_set_size(offsets, 0);
    for (guint i = 0; i < coarse->len; i++)
        for (guint j = 0; j < fine->len; j++) {
            int32_t sum = g_array_index(coarse, int32_t, i) + g_array_index(fine, int, j) * seconds;
            g_array_append_val(offsets, sum);
        }
    sort_without_repeats(offsets);
}

/* Days from the week's first to each BYDAY weekday. */
static void spread_weekdays(Expansion *e)
{
    const struct icalrecurrencetype *parts = &e->rule->parts;
    short days[ICAL_BY_DAY_SIZE];
    int week_start = (parts->week_start + 5) % 7; /* 0 Monday */
    int otherwise = (day_weekday(e->start.day) - 1 - week_start + 7) % 7;
    int n = 0;

    for (; n < ICAL_BY_DAY_SIZE - 1 && parts->by_day[n] != ICAL_RECURRENCE_ARRAY_MAX; n++)
        days[n] =
            (short)((icalrecurrencetype_day_day_of_week(parts->by_day[n]) + 5 - week_start + 7) %
                    7);
    days[n] = ICAL_RECURRENCE_ARRAY_MAX;
    spread(e->offsets, days, ICAL_BY_DAY_SIZE, otherwise, 6, (int)DAY_SECONDS);
}

static void make_offsets(Expansion *e)
{
    const struct icalrecurrencetype *parts = &e->rule->parts;
    int32_t second = e->start.second;
    int32_t zero = 0;

    e->offsets = g_array_new(FALSE, FALSE, sizeof(int32_t));
    g_array_append_val(e->offsets, zero);
    if (parts->freq == ICAL_WEEKLY_RECURRENCE) spread_weekdays(e);
    if (parts->freq >= ICAL_DAILY_RECURRENCE)
        spread(e->offsets, parts->by_hour, ICAL_BY_HOUR_SIZE, second / 3600, 23, 3600);
    if (parts->freq >= ICAL_HOURLY_RECURRENCE)
        spread(e->offsets, parts->by_minute, ICAL_BY_MINUTE_SIZE, second / 60 % 60, 59, 60);
    if (parts->freq >= ICAL_MINUTELY_RECURRENCE)
        spread(e->offsets, parts->by_second, ICAL_BY_SECOND_SIZE, second % 60, 59, 1);
}

/* Says aloud what RFC 5545 leaves to the start: libical 3.0 looks for yearly month days in the
 * start's month only, and reads past its tables where BYWEEKNO has no BYDAY. */
static void complete_yearly(struct icalrecurrencetype *parts, Day start)
{
    if (parts->by_month_day[0] != ICAL_RECURRENCE_ARRAY_MAX &&
        parts->by_month[0] == ICAL_RECURRENCE_ARRAY_MAX) {
        for (short month = 1; month <= 12; month++)
            parts->by_month[month - 1] = month;
        parts->by_month[12] = ICAL_RECURRENCE_ARRAY_MAX;
    }
    if (parts->by_week_no[0] != ICAL_RECURRENCE_ARRAY_MAX &&
        parts->by_day[0] == ICAL_RECURRENCE_ARRAY_MAX) {
        parts->by_day[0] = (short)(day_weekday(start) % 7 + 1);
        parts->by_day[1] = ICAL_RECURRENCE_ARRAY_MAX;
    }
}

/* The next date that libical finds, as a unit; false at its end. */
static bool take_date(Expansion *e)
{
    struct icaltimetype date = icalrecur_iterator_next(e->dates);
    Day day;

    if (icaltime_is_null_time(date) || !day_from_civil(date.year, date.month, date.day, &day))
        return false;
    e->index = day;
    return true;
}

/* False where the rule matches no date. */
static bool open_dates(Expansion *e)
{
    struct icalrecurrencetype parts = e->rule->parts;
    struct icaltimetype start = {.is_date = 1};

    parts.by_hour[0] = parts.by_minute[0] = parts.by_second[0] = ICAL_RECURRENCE_ARRAY_MAX;
    if (parts.freq == ICAL_YEARLY_RECURRENCE) complete_yearly(&parts, e->start.day);
    day_to_civil(e->start.day, &start.year, &start.month, &start.day);
    e->dates = icalrecur_iterator_new(parts, start);
    e->more_dates = e->dates != NULL && take_date(e);
    return e->more_dates;
}

Expansion *expansion_new(const Rule *rule, LocalTime start)
{
    static const int64_t UNITS[] = {
        [ICAL_SECONDLY_RECURRENCE] = 1,          [ICAL_MINUTELY_RECURRENCE] = 60,
        [ICAL_HOURLY_RECURRENCE] = 3600,         [ICAL_DAILY_RECURRENCE] = DAY_SECONDS,
        [ICAL_WEEKLY_RECURRENCE] = WEEK_SECONDS, [ICAL_MONTHLY_RECURRENCE] = DAY_SECONDS,
        [ICAL_YEARLY_RECURRENCE] = DAY_SECONDS,
    };
    Expansion *e = g_new0(Expansion, 1);

    e->rule = rule;
    e->start = start;
    e->unit = UNITS[rule->parts.freq];
    if (rule->parts.freq == ICAL_WEEKLY_RECURRENCE) /* 1970-01-05 was a Monday */
        e->origin = (4 + (rule->parts.week_start + 5) % 7) * DAY_SECONDS;
    e->index = divide_down(local_seconds(start) - e->origin, e->unit);
    e->matches = g_array_new(FALSE, FALSE, sizeof(int64_t));
    make_offsets(e);
    if (rule->parts.freq >= ICAL_MONTHLY_RECURRENCE && !open_dates(e))
        g_clear_pointer(&e, expansion_free);
    return e;
}

void expansion_free(Expansion *e)
{
    if (e == NULL) return;
    if (e->dates != NULL) icalrecur_iterator_free(e->dates);
    g_array_unref(e->offsets);
    g_array_unref(e->matches);
    g_free(e);
}

static bool listed(const short *list, int size, int value, int value_from_end)
{
    if (list[0] == ICAL_RECURRENCE_ARRAY_MAX) return true;
    for (int i = 0; i < size && list[i] != ICAL_RECURRENCE_ARRAY_MAX; i++)
        if (list[i] == value || list[i] == value_from_end) return true;
    return false;
}

static bool listed_weekday(const struct icalrecurrencetype *parts, Day day)
{
    int weekday = day_weekday(day) % 7 + 1; /* 1 Sunday, as libical counts */

    if (parts->by_day[0] == ICAL_RECURRENCE_ARRAY_MAX) return true;
    for (int i = 0; i < ICAL_BY_DAY_SIZE && parts->by_day[i] != ICAL_RECURRENCE_ARRAY_MAX; i++)
        if ((int)icalrecurrencetype_day_day_of_week(parts->by_day[i]) == weekday) return true;
    return false;
}

/* Whether the BY parts that limit a rule up to the week let the date pass. */
static bool day_passes(const struct icalrecurrencetype *parts, Day day)
{
    int year, month, mday;
    Day first, after, year_first, year_after;

    day_to_civil(day, &year, &month, &mday);
    if (!day_from_civil(year, month, 1, &first) || !day_from_civil(year, 1, 1, &year_first))
        return false;
    after = month == 12 ? first + 31 : 0;
    if (month < 12) day_from_civil(year, month + 1, 1, &after);
    if (!day_from_civil(year + 1, 1, 1, &year_after)) return false;
    return listed(parts->by_month, ICAL_BY_MONTH_SIZE, month, month) &&
           listed(parts->by_month_day, ICAL_BY_MONTHDAY_SIZE, mday, day - after) &&
           listed(parts->by_year_day, ICAL_BY_YEARDAY_SIZE, day - year_first + 1,
                  day - year_after) &&
           listed_weekday(parts, day);
}

/* Whether BYHOUR, BYMINUTE and BYSECOND let a unit pass that is as long or shorter. second: of the
 * day. */
static bool time_passes(const struct icalrecurrencetype *parts, int second)
{
    int hour = second / 3600;
    int minute = second / 60 % 60;

    if (parts->freq <= ICAL_HOURLY_RECURRENCE &&
        !listed(parts->by_hour, ICAL_BY_HOUR_SIZE, hour, hour))
        return false;
    if (parts->freq <= ICAL_MINUTELY_RECURRENCE &&
        !listed(parts->by_minute, ICAL_BY_MINUTE_SIZE, minute, minute))
        return false;
    second %= 60;
    return parts->freq != ICAL_SECONDLY_RECURRENCE ||
           listed(parts->by_second, ICAL_BY_SECOND_SIZE, second, second == 59 ? 60 : second);
}

/* Moves to the first unit of the rule's step that begins at or after a local second. */
static void step_to(Expansion *e, int64_t seconds)
{
    int64_t wanted = divide_down(seconds - e->origin + e->unit - 1, e->unit);
    int64_t interval = e->rule->parts.interval;

    if (wanted > e->index) e->index += (wanted - e->index + interval - 1) / interval * interval;
}

/* Keeps the matches that BYSETPOS names. */
static void choose(const Rule *rule, GArray *matches)
{
    int length = (int)matches->len;
    guint kept = 0;

    if (rule->parts.by_set_pos[0] == ICAL_RECURRENCE_ARRAY_MAX) return;
    for (int i = 0; i < length; i++)
        if (listed(rule->parts.by_set_pos, ICAL_BY_SETPOS_SIZE, i + 1, i - length))
            g_array_index(matches, int64_t, kept++) = g_array_index(matches, int64_t, i);
    g_array_set_size(matches, kept);
}

/* The matches in the unit at index, whose date has passed already; in a week each match is looked
 * at again, for the month may change within it. */
static void match_unit(Expansion *e)
{
    int64_t begin = e->origin + e->index * e->unit;

    g_array_set_size(e->matches, 0);
    e->taken = 0;
    for (guint i = 0; i < e->offsets->len; i++) {
        int64_t match = begin + g_array_index(e->offsets, int32_t, i);

        if (e->unit <= DAY_SECONDS ||
            day_passes(&e->rule->parts, (Day)divide_down(match, DAY_SECONDS)))
            g_array_append_val(e->matches, match);
    }
    if (e->dates == NULL) /* libical has chosen among the dates */
        choose(e->rule, e->matches);
}

static bool next_date_unit(Expansion *e)
{
    if (!e->more_dates) return false;
    match_unit(e);
    e->more_dates = take_date(e);
    return true;
}

static bool month_passes(const struct icalrecurrencetype *parts, Day day)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    return listed(parts->by_month, ICAL_BY_MONTH_SIZE, month, month);
}

/* Whether the unit that begins then may hold a match, by its date and time. */
static bool unit_passes(const Expansion *e, Day day, int second)
{
    const struct icalrecurrencetype *parts = &e->rule->parts;

    if (parts->freq == ICAL_WEEKLY_RECURRENCE)
        return month_passes(parts, day) || month_passes(parts, day + 6);
    return day_passes(parts, day) && time_passes(parts, second);
}

static bool next_plain_unit(Expansion *e)
{
    const struct icalrecurrencetype *parts = &e->rule->parts;
    Day last_day;

    day_from_civil(9999, 12, 31, &last_day);
    for (int steps = 0; steps < STEPS_MAX; steps++) {
        int64_t begin = e->origin + e->index * e->unit;
        Day day = (Day)divide_down(begin, DAY_SECONDS);

        if (day >= last_day) return false;
        if (!unit_passes(e, day, (int)(begin - day * DAY_SECONDS))) {
            e->index += parts->interval;
            if (e->unit < DAY_SECONDS && !day_passes(parts, day))
                step_to(e, (day + 1) * DAY_SECONDS);
            continue;
        }
        match_unit(e);
        e->index += parts->interval;
        if (e->matches->len > 0) return true;
        steps += (int)e->offsets->len;
    }
    return false;
}

bool expansion_next(Expansion *e, LocalTime *local)
{
    for (;;) {
        while (e->taken < e->matches->len) {
            int64_t match = g_array_index(e->matches, int64_t, e->taken++);

            if (match < local_seconds(e->start)) continue;
            local->day = (Day)divide_down(match, DAY_SECONDS);
            local->second = (int32_t)(match - local->day * DAY_SECONDS);
            return true;
        }
        if (!(e->dates != NULL ? next_date_unit(e) : next_plain_unit(e))) return false;
    }
}

void expansion_seek(Expansion *e, Day day)
{
    int64_t seconds = day * DAY_SECONDS;

    if (seconds > local_seconds(e->start)) e->start = (LocalTime){.day = day, .second = 0};
    if (e->dates == NULL) /* the unit that the date falls into may have begun before it */
        step_to(e, seconds - e->unit + 1);
}
