/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/local.h"

#include <stdio.h>

#define DAY_S (24 * 60 * 60)

static int64_t offset_at(GTimeZone *zone, int64_t second)
{
    int interval = g_time_zone_find_interval(zone, G_TIME_TYPE_UNIVERSAL, second);

    return g_time_zone_get_offset(zone, interval);
}

static void read_date(const char *date, int *year, int *month, int *day)
{
    int read = sscanf(date, "%d-%d-%d", year, month, day);

    g_assert(read == 3);
}

int64_t local_instant(GTimeZone *zone, const char *date, int minute)
{
    int year, month, day;

    read_date(date, &year, &month, &day);
    g_autoptr(GDateTime) plain = g_date_time_new_utc(year, month, day, minute / 60, minute % 60, 0);
    int64_t shown = g_date_time_to_unix(plain);
    int64_t before = offset_at(zone, shown - DAY_S);
    int64_t after = offset_at(zone, shown + DAY_S);
    int64_t first = shown - before;
    int64_t second = shown - after;

    if (offset_at(zone, first) == before) return first * 1000;
    if (offset_at(zone, second) == after) return second * 1000;
    return first * 1000; /* a gap */
}

static GDateTime *shown(GTimeZone *zone, int64_t ms)
{
    int64_t second = ms / 1000;

    return g_date_time_new_from_unix_utc(second + offset_at(zone, second));
}

int local_minute(GTimeZone *zone, int64_t ms, char **date)
{
    g_autoptr(GDateTime) local = shown(zone, ms);

    if (date != NULL) *date = g_date_time_format(local, "%Y-%m-%d");
    return g_date_time_get_hour(local) * 60 + g_date_time_get_minute(local);
}

int local_weekday(GTimeZone *zone, int64_t ms)
{
    g_autoptr(GDateTime) local = shown(zone, ms);

    return g_date_time_get_day_of_week(local);
}

char *local_date_add(const char *date, int days)
{
    int year, month, day;

    read_date(date, &year, &month, &day);
    g_autoptr(GDateTime) from = g_date_time_new_utc(year, month, day, 12, 0, 0);
    g_autoptr(GDateTime) to = g_date_time_add_days(from, days);
    return g_date_time_format(to, "%Y-%m-%d");
}

int local_minute_of(const char *text)
{
    int hour, minute;
    int read = sscanf(text, "%d:%d", &hour, &minute);

    g_assert(read == 2);
    return hour * 60 + minute;
}
