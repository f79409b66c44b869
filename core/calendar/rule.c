/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/rule.h"

/* Once a minute. More in one day is a mistake or an attack. */
#define TIMES_OF_DAY_MAX 1440

#define NOT_A_RULE "not a recurrence rule of RFC 5545, such as FREQ=WEEKLY;BYDAY=MO,WE,FR"

static int list_length(const short *list, int size)
{
    int n = 0;

    while (n < size && list[n] != ICAL_RECURRENCE_ARRAY_MAX)
        n++;
    return n;
}

static bool day_has_number(const struct icalrecurrencetype *parts)
{
    for (int i = 0; i < list_length(parts->by_day, ICAL_BY_DAY_SIZE); i++)
        if (icalrecurrencetype_day_position(parts->by_day[i]) != 0) return true;
    return false;
}

static int times_of_day(const struct icalrecurrencetype *parts)
{
    return MAX(1, list_length(parts->by_hour, ICAL_BY_HOUR_SIZE)) *
           MAX(1, list_length(parts->by_minute, ICAL_BY_MINUTE_SIZE)) *
           MAX(1, list_length(parts->by_second, ICAL_BY_SECOND_SIZE));
}

static bool given(const short *list)
{
    return list[0] != ICAL_RECURRENCE_ARRAY_MAX;
}

/* Yearly parts whose meeting libical 3.0 gets wrong (compared with an independent implementation).
 */
static bool odd_yearly(const struct icalrecurrencetype *parts)
{
    bool month = given(parts->by_month);
    bool month_day = given(parts->by_month_day);
    bool week = given(parts->by_week_no);
    bool year_day = given(parts->by_year_day);

    if (year_day && (month || month_day || week)) return true;
    if (week && (month || month_day || given(parts->by_set_pos))) return true;
    return month_day && day_has_number(parts);
}

/* The table and the notes of RFC 5545 section 3.3.10: which parts may stand beside which FREQ. NULL
 * where all is well. */
static const char *misplaced_part(const struct icalrecurrencetype *parts)
{
    icalrecurrencetype_frequency freq = parts->freq;
    bool has_week = given(parts->by_week_no);
    bool has_year_day = given(parts->by_year_day);
    bool has_month_day = given(parts->by_month_day);
    bool has_position = given(parts->by_set_pos);
    bool has_any = has_week || has_year_day || has_month_day || given(parts->by_day) ||
                   given(parts->by_month) || given(parts->by_hour) || given(parts->by_minute) ||
                   given(parts->by_second);

    if (has_week && freq != ICAL_YEARLY_RECURRENCE) return "BYWEEKNO needs FREQ=YEARLY";
    if (has_year_day && freq >= ICAL_DAILY_RECURRENCE && freq <= ICAL_MONTHLY_RECURRENCE)
        return "BYYEARDAY cannot stand beside FREQ=DAILY, WEEKLY or MONTHLY";
    if (has_month_day && freq == ICAL_WEEKLY_RECURRENCE)
        return "BYMONTHDAY cannot stand beside FREQ=WEEKLY";
    if (day_has_number(parts) && (freq < ICAL_MONTHLY_RECURRENCE || has_week))
        return "a numbered weekday such as 2MO needs FREQ=MONTHLY, or FREQ=YEARLY without BYWEEKNO";
    if (freq == ICAL_YEARLY_RECURRENCE && odd_yearly(parts))
        return "these BY parts do not go together here: of BYWEEKNO, BYYEARDAY, BYMONTH with "
               "BYMONTHDAY take one; "
               "a numbered weekday stands alone or with BYMONTH";
    if (has_position && !has_any) return "BYSETPOS needs another BY part to choose from";
    if (freq >= ICAL_DAILY_RECURRENCE && times_of_day(parts) > TIMES_OF_DAY_MAX)
        return "more than 1440 times a day";
    if (has_position && freq >= ICAL_MONTHLY_RECURRENCE && times_of_day(parts) > 1)
        return "BYSETPOS beside several times of day is not read here: write one rule for each "
               "time";
    return NULL;
}

static bool month_is_leap(const struct icalrecurrencetype *parts)
{
    for (int i = 0; i < list_length(parts->by_month, ICAL_BY_MONTH_SIZE); i++)
        if (icalrecurrencetype_month_is_leap(parts->by_month[i]) || parts->by_month[i] > 12)
            return true;
    return false;
}

/* A list with nothing between two commas, or at an end, which libical takes. */
static bool has_empty_item(const char *text)
{
    return strstr(text, "=,") != NULL || strstr(text, ",,") != NULL || strstr(text, ",;") != NULL ||
           g_str_has_suffix(text, ",");
}

/* What need not go to libical at all: too long, other characters, an empty item, or the parts of RFC 7529, which
 * it reads in part. */
static const char *unreadable(const char *text)
{
    size_t length = strnlen(text, RULE_BYTES_MAX + 1);

    if (length > RULE_BYTES_MAX) return "longer than 500 bytes";
    for (size_t i = 0; i < length; i++)
        if (!g_ascii_isalnum(text[i]) && strchr("=;,:+-", text[i]) == NULL) return NOT_A_RULE;
    if (has_empty_item(text)) return NOT_A_RULE;
    g_autofree char *upper = g_ascii_strup(text, -1);

    if (strstr(upper, "RSCALE=") != NULL || strstr(upper, "SKIP=") != NULL)
        return "RSCALE and SKIP are not read here";
    return NULL;
}

static bool take_until(Rule *rule)
{
    struct icaltimetype until = rule->parts.until;

    rule->parts.until = icaltime_null_time();
    if (icaltime_is_null_time(until)) return true;
    if (!day_from_civil(until.year, until.month, until.day, &rule->until.day)) return false;
    rule->until_kind = until.is_date            ? UNTIL_DATE
                       : icaltime_is_utc(until) ? UNTIL_UTC
                                                : UNTIL_LOCAL;
    if (until.is_date) return true;
    if (until.hour > 23 || until.minute > 59 || until.second > 60) return false;
    rule->until.second = until.hour * 3600 + until.minute * 60 + MIN(until.second, 59);
    return true;
}

bool rule_parse(const char *text, Rule *rule, char **why)
{
    const char *fault = unreadable(text);

    memset(rule, 0, sizeof *rule);
    if (fault == NULL) {
        rule->parts = icalrecurrencetype_from_string(text);
        if (rule->parts.freq == ICAL_NO_RECURRENCE || month_is_leap(&rule->parts))
            fault = NOT_A_RULE;
        else
            fault = misplaced_part(&rule->parts);
    }
    if (fault == NULL && !take_until(rule))
        fault = "UNTIL is no date or time; write UNTIL=20260331 or UNTIL=20260331T170000Z";
    rule->count = rule->parts.count;
    rule->parts.count = 0;
    if (fault == NULL && (rule->count < 0 || rule->parts.interval < 1)) fault = NOT_A_RULE;
    if (fault == NULL) return true;
    *why = g_strdup(fault);
    return false;
}

bool rule_over(const Rule *rule, LocalTime local, int64_t ms)
{
    switch (rule->until_kind) {
    case UNTIL_NONE: return false;
    case UNTIL_DATE: return local.day > rule->until.day;
    case UNTIL_LOCAL:
        return local.day > rule->until.day ||
               (local.day == rule->until.day && local.second > rule->until.second);
    case UNTIL_UTC: return ms > rule->until.day * DAY_MS + rule->until.second * SECOND_MS;
    }
    g_assert_not_reached();
}

bool rule_over_by(const Rule *rule, Day day)
{
    /* Two days: no zone is a day from UTC, and no clock was ever set by more than a day. */
    return rule->until_kind != UNTIL_NONE && day > rule->until.day + 2;
}
