/* SPDX-License-Identifier: Apache-2.0 */
/* GLib's own way from local time to an instant follows the "standard" flag of the zone and so takes
 * the second pass of an overlap in most zones and the first in some (Dublin); in a gap it jumps to
 * the gap's end. RFC 5545 section 3.3.5 wants one rule. So GLib is asked only one thing here, which
 * offset holds at an instant, and both readings of a local time are worked out and weighed below.
 *
 * GLib reads the explicit transitions of a zone file and not the rule in its footer (RFC 9636
 * section 3.3), and the files stop in 2037. Later dates are therefore looked up in an earlier year
 * with the same weekdays. */
#include "core/calendar/zone.h"

#define DAY_SECONDS INT64_C(86400)

/* No zone has ever been further from UTC than this; a local time's instants lie within it. */
#define OFFSET_SECONDS_MAX (16 * INT64_C(3600))

/* The years that stand for those after them: between them all seven weekdays of 1 January and of 1
 * March. */
#define PROXY_YEAR_FIRST 2027
#define PROXY_YEAR_LAST 2037

typedef struct {
    int64_t utc;    /* seconds since 1970 */
    int before;     /* in a gap: the interval that the gap ends */
    LocalKind kind; /* never LOCAL_MISSING */
} Reading;

static int interval_at(GTimeZone *zone, int64_t utc)
{
    return g_time_zone_find_interval(zone, G_TIME_TYPE_UNIVERSAL, utc);
}

/* Seconds to take from a time past the end of the zone file so that the file can answer for it; 0
 * for other times. A rule like "last Sunday of October" falls on the same date in two years whose 1
 * March is the same weekday (dates before March: 1 January). */
static int64_t proxy_shift(GTimeZone *zone, int64_t seconds)
{
    int year, month, mday;
    Day day = (Day)divide_down(seconds, DAY_SECONDS);

    day_to_civil(day, &year, &month, &mday);
    if (year <= PROXY_YEAR_LAST) return 0;
    int last = interval_at(zone, INT64_MAX / 2);
    if (interval_at(zone, seconds - 2 * DAY_SECONDS) != last) return 0;

    int anchor_month = month > 2 ? 3 : 1;
    Day anchor, proxy;

    if (!day_from_civil(year, anchor_month, 1, &anchor)) return 0;
    for (int proxy_year = PROXY_YEAR_LAST; proxy_year >= PROXY_YEAR_FIRST; proxy_year--)
        if (day_from_civil(proxy_year, anchor_month, 1, &proxy) &&
            day_weekday(proxy) == day_weekday(anchor))
            return (anchor - proxy) * DAY_SECONDS;
    return 0;
}

/* wall: the local time as if it were UTC, in seconds. */
static Reading read_wall(GTimeZone *zone, int64_t wall)
{
    int first = interval_at(zone, wall - OFFSET_SECONDS_MAX);
    int last = interval_at(zone, wall + OFFSET_SECONDS_MAX);
    Reading gap = {.utc = wall, .before = -1, .kind = LOCAL_GAP};
    Reading found = {.before = -1, .kind = LOCAL_GAP};

    for (int i = first; i <= last; i++) {
        int64_t utc = wall - g_time_zone_get_offset(zone, i);
        int holds = interval_at(zone, utc);

        if (holds == i && found.kind == LOCAL_GAP)
            found = (Reading){.utc = utc, .before = -1, .kind = LOCAL_PLAIN};
        else if (holds == i && utc != found.utc)
            found.kind = LOCAL_OVERLAP;
        else if (holds > i) /* by this offset the time lies past its end; the last such one is
                               before the gap */
            gap = (Reading){.utc = utc, .before = i, .kind = LOCAL_GAP};
    }
    return found.kind == LOCAL_GAP ? gap : found;
}

static bool whole_day_skipped(GTimeZone *zone, int64_t wall)
{
    int64_t midnight = divide_down(wall, DAY_SECONDS) * DAY_SECONDS;
    Reading begin = read_wall(zone, midnight);
    Reading end = read_wall(zone, midnight + DAY_SECONDS - 1);

    return begin.kind == LOCAL_GAP && end.kind == LOCAL_GAP && begin.before == end.before;
}

int64_t zone_instant(GTimeZone *zone, LocalTime local, LocalKind *kind)
{
    int64_t wall = local.day * DAY_SECONDS + local.second;
    int64_t shift = proxy_shift(zone, wall);
    Reading reading = read_wall(zone, wall - shift);

    if (reading.kind == LOCAL_GAP && whole_day_skipped(zone, wall - shift))
        reading.kind = LOCAL_MISSING;
    if (kind != NULL) *kind = reading.kind;
    return (reading.utc + shift) * SECOND_MS;
}

/* How far from a time the offset stays what it is, in whole days, up to a year; direction 1 or -1. */
static int64_t same_offset(GTimeZone *zone, int64_t utc, int direction)
{
    int interval = interval_at(zone, utc);
    int64_t days = 0;

    for (int64_t step = 256; step > 0; step /= 2)
        if (interval_at(zone, utc + direction * (days + step) * DAY_SECONDS) == interval)
            days += step;
    return days * DAY_SECONDS;
}

/* The files' last years stand for all after them: those are not walked into. */
static void move_stretch(ZoneStretch *near, GTimeZone *zone, int64_t utc)
{
    Day end;

    day_from_civil(PROXY_YEAR_LAST, 12, 31, &end);
    if (utc > end * DAY_SECONDS) return;
    *near = (ZoneStretch){.zone = zone,
                          .from = utc - same_offset(zone, utc, -1),
                          .to = MIN(utc + same_offset(zone, utc, 1), end * DAY_SECONDS),
                          .offset = g_time_zone_get_offset(zone, interval_at(zone, utc))};
}

static bool lies_in(const ZoneStretch *near, GTimeZone *zone, int64_t from, int64_t to)
{
    return near->zone == zone && from >= near->from && to <= near->to;
}

int64_t zone_instant_near(ZoneStretch *near, GTimeZone *zone, LocalTime local, LocalKind *kind)
{
    int64_t wall = local.day * DAY_SECONDS + local.second;

    if (!lies_in(near, zone, wall - OFFSET_SECONDS_MAX, wall + OFFSET_SECONDS_MAX)) {
        int64_t ms = zone_instant(zone, local, kind);
        int64_t utc = divide_down(ms, SECOND_MS);
        if (!lies_in(near, zone, utc, utc)) move_stretch(near, zone, utc);
        return ms;
    }
    if (kind != NULL) *kind = LOCAL_PLAIN;
    return (wall - near->offset) * SECOND_MS;
}

LocalTime zone_local_near(ZoneStretch *near, GTimeZone *zone, int64_t ms)
{
    int64_t utc = divide_down(ms, SECOND_MS);

    if (!lies_in(near, zone, utc, utc)) move_stretch(near, zone, utc);
    if (!lies_in(near, zone, utc, utc)) return zone_local(zone, ms);
    int64_t wall = utc + near->offset;
    Day day = (Day)divide_down(wall, DAY_SECONDS);
    return (LocalTime){.day = day, .second = (int32_t)(wall - day * DAY_SECONDS)};
}

int32_t zone_offset(GTimeZone *zone, int64_t ms)
{
    int64_t utc = divide_down(ms, SECOND_MS);

    return g_time_zone_get_offset(zone, interval_at(zone, utc - proxy_shift(zone, utc)));
}

LocalTime zone_local(GTimeZone *zone, int64_t ms)
{
    int64_t wall = divide_down(ms, SECOND_MS) + zone_offset(zone, ms);
    Day day = (Day)divide_down(wall, DAY_SECONDS);

    return (LocalTime){.day = day, .second = (int32_t)(wall - day * DAY_SECONDS)};
}

const char *local_kind_name(LocalKind kind)
{
    static const char *const NAMES[] = {
        [LOCAL_PLAIN] = "plain",
        [LOCAL_GAP] = "gap",
        [LOCAL_OVERLAP] = "overlap",
        [LOCAL_MISSING] = "missing",
    };

    g_assert((size_t)kind < G_N_ELEMENTS(NAMES));
    return NAMES[kind];
}
