/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/date.h"

#define YEAR_MIN 1
#define YEAR_MAX 9999

/* 400 Gregorian years have always the same number of days. */
#define ERA_DAYS 146097
/* Days from 0000-03-01 to 1970-01-01. */
#define EPOCH_SHIFT 719468

#define DURATION_DAYS_MAX 400

int64_t divide_down(int64_t value, int64_t by)
{
    return value / by - (value % by < 0 ? 1 : 0);
}

static bool leap_year(int year)
{
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int month_days(int year, int month)
{
    static const int DAYS[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

    return month == 2 && leap_year(year) ? 29 : DAYS[month - 1];
}

bool day_from_civil(int year, int month, int mday, Day *day)
{
    if (year < YEAR_MIN || year > YEAR_MAX || month < 1 || month > 12) return false;
    if (mday < 1 || mday > month_days(year, month)) return false;
    /* Years that begin in March put the leap day last, so that month lengths follow one formula. */
    int shifted = month > 2 ? year : year - 1;
    int month_from_march = (month + 9) % 12;
    int day_of_year = (153 * month_from_march + 2) / 5 + mday - 1;

    *day = 365 * shifted + shifted / 4 - shifted / 100 + shifted / 400 + day_of_year - EPOCH_SHIFT;
    return true;
}

void day_to_civil(Day day, int *year, int *month, int *mday)
{
    int64_t shifted = (int64_t)day + EPOCH_SHIFT;
    int64_t era = (shifted >= 0 ? shifted : shifted - (ERA_DAYS - 1)) / ERA_DAYS;
    int in_era = (int)(shifted - era * ERA_DAYS);
    int year_in_era = (in_era - in_era / 1460 + in_era / 36524 - in_era / 146096) / 365;
    int day_of_year = in_era - (365 * year_in_era + year_in_era / 4 - year_in_era / 100);
    int month_from_march = (5 * day_of_year + 2) / 153;

    *mday = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    *month = month_from_march < 10 ? month_from_march + 3 : month_from_march - 9;
    *year = (int)(year_in_era + era * 400) + (*month <= 2 ? 1 : 0);
}

Day day_years_after(Day day, int years)
{
    int year, month, mday;
    Day after = day;

    day_to_civil(day, &year, &month, &mday);
    if (!day_from_civil(year + years, month, mday, &after))
        day_from_civil(year + years, month, 28, &after);
    return after;
}

int day_weekday(Day day)
{
    /* 1970-01-01 was a Thursday. */
    return (int)((((int64_t)day + 3) % 7 + 7) % 7) + 1;
}

/* Reads exactly count digits and moves text past them. */
static bool take_digits(const char **text, int count, int *value)
{
    *value = 0;
    for (int i = 0; i < count; i++, (*text)++) {
        if (!g_ascii_isdigit(**text)) return false;
        *value = *value * 10 + (**text - '0');
    }
    return true;
}

static bool take_char(const char **text, char wanted)
{
    if (**text != wanted) return false;
    (*text)++;
    return true;
}

static bool take_day(const char **text, Day *day)
{
    int year, month, mday;

    return take_digits(text, 4, &year) && take_char(text, '-') && take_digits(text, 2, &month) &&
           take_char(text, '-') && take_digits(text, 2, &mday) &&
           day_from_civil(year, month, mday, day);
}

/* "08:30" */
static bool take_minutes(const char **text, int32_t *second)
{
    int hour, minute;

    if (!take_digits(text, 2, &hour) || !take_char(text, ':') || !take_digits(text, 2, &minute))
        return false;
    *second = hour * 3600 + minute * 60;
    return hour <= 23 && minute <= 59;
}

bool day_parse(const char *text, Day *day)
{
    Day read;

    if (!take_day(&text, &read) || *text != '\0') return false;
    *day = read;
    return true;
}

/* So many digits, and what comes after them; past it. */
static char *put_digits(char *at, int number, int digits, char after)
{
    for (int i = digits - 1; i >= 0; i--, number /= 10)
        at[i] = (char)('0' + number % 10);
    at[digits] = after;
    return at + digits + 1;
}

/* "2026-01-31" and what comes after it. Years have four digits. */
static char *put_day(char *at, Day day, char after)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    at = put_digits(at, CLAMP(year, 0, 9999), 4, '-');
    at = put_digits(at, month, 2, '-');
    return put_digits(at, mday, 2, after);
}

char *day_format(Day day)
{
    char *text = g_malloc(sizeof "2026-01-31");

    put_day(text, day, '\0');
    return text;
}

bool local_parse(const char *text, LocalTime *local)
{
    LocalTime read;
    int second = 0;

    if (!take_day(&text, &read.day) || !take_char(&text, 'T') || !take_minutes(&text, &read.second))
        return false;
    if (*text == ':' && (!take_char(&text, ':') || !take_digits(&text, 2, &second) || second > 59))
        return false;
    if (*text != '\0') return false;
    read.second += second;
    *local = read;
    return true;
}

char *local_format(LocalTime local)
{
    char *text = g_malloc(sizeof "2026-01-31T08:30:15");
    int second = local.second % 60;
    char *at = put_day(text, local.day, 'T');

    at = put_digits(at, local.second / 3600, 2, ':');
    at = put_digits(at, local.second / 60 % 60, 2, second == 0 ? '\0' : ':');
    if (second != 0) put_digits(at, second, 2, '\0');
    return text;
}

bool clock_time_parse(const char *text, int32_t *second)
{
    int32_t read;

    if (!take_minutes(&text, &read) || *text != '\0') return false;
    *second = read;
    return true;
}

/* ".123456" to 123; digits beyond the millisecond are read and dropped. Nothing there is 0. */
static bool take_fraction(const char **text, int *ms)
{
    int scale = 100;

    *ms = 0;
    if (**text != '.') return true;
    (*text)++;
    if (!g_ascii_isdigit(**text)) return false;
    for (; g_ascii_isdigit(**text); (*text)++, scale /= 10)
        *ms += (**text - '0') * scale;
    return true;
}

/* "Z" or "+01:00", in seconds east. */
static bool take_offset(const char **text, int32_t *offset)
{
    *offset = 0;
    if (**text == 'Z' || **text == 'z') {
        (*text)++;
        return true;
    }
    int sign = **text == '-' ? -1 : 1;

    if (**text != '+' && **text != '-') return false;
    (*text)++;
    if (!take_minutes(text, offset)) return false;
    *offset *= sign;
    return true;
}

static void day_limits(Day *first, Day *last)
{
    day_from_civil(YEAR_MIN, 1, 1, first);
    day_from_civil(YEAR_MAX, 12, 31, last);
}

bool instant_parse(const char *text, int64_t *ms)
{
    Day day, first, last;
    int32_t second_of_day, offset;
    int second, fraction;

    if (!take_day(&text, &day) || (*text != 'T' && *text != 't')) return false;
    text++;
    if (!take_minutes(&text, &second_of_day) || !take_char(&text, ':') ||
        !take_digits(&text, 2, &second) || !take_fraction(&text, &fraction) ||
        !take_offset(&text, &offset) || *text != '\0')
        return false;
    /* RFC 3339 writes a leap second as :60; on a clock without leap seconds it is the next minute.
     */
    if (second > 60) return false;
    int64_t read = day * DAY_MS + (int64_t)(second_of_day + second - offset) * SECOND_MS + fraction;

    day_limits(&first, &last);
    if (read < first * DAY_MS || read >= (last + 1) * DAY_MS) return false;
    *ms = read;
    return true;
}

static char *format_instant(int64_t ms, bool exact)
{
    Day first, last;
    int year, month, mday;

    day_limits(&first, &last);
    ms = CLAMP(ms, first * DAY_MS, (last + 1) * DAY_MS - 1);
    Day day = (Day)divide_down(ms, DAY_MS);
    int in_day = (int)(ms - day * DAY_MS);
    int second = in_day / 1000;
    int fraction = in_day % 1000;

    day_to_civil(day, &year, &month, &mday);
    GString *text = g_string_sized_new(32);
    g_string_printf(text, "%04d-%02d-%02dT%02d:%02d:%02d", year, month, mday, second / 3600,
                    second / 60 % 60, second % 60);
    if (exact && fraction != 0) g_string_append_printf(text, ".%03d", fraction);
    g_string_append_c(text, 'Z');
    return g_string_free(text, FALSE);
}

char *instant_format(int64_t ms)
{
    return format_instant(ms, false);
}

char *instant_format_exact(int64_t ms)
{
    return format_instant(ms, true);
}

bool duration_parse(const char *text, int64_t *ms)
{
    static const struct {
        const char *unit;
        int64_t ms;
    } UNITS[] = {{"s", SECOND_MS}, {"min", MINUTE_MS}, {"h", HOUR_MS}, {"d", DAY_MS}};
    int64_t number = 0;
    int digits = 0;

    for (; g_ascii_isdigit(*text) && digits < 9; text++, digits++)
        number = number * 10 + (*text - '0');
    if (digits == 0 || number == 0) return false;
    for (size_t i = 0; i < G_N_ELEMENTS(UNITS); i++) {
        if (strcmp(text, UNITS[i].unit) != 0) continue;
        if (number > DURATION_DAYS_MAX * DAY_MS / UNITS[i].ms) return false;
        *ms = number * UNITS[i].ms;
        return true;
    }
    return false;
}
