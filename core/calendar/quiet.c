/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/quiet.h"

#define DAY_SECONDS 86400

/* Each round either ends or passes a change of the clock or a quiet stretch; more than a few never
 * happen. */
#define ROUNDS_MAX 16

bool quiet_parse(const char *text, Quiet *quiet)
{
    g_auto(GStrv) halves = g_strsplit(text, "-", 3);
    Quiet read;

    if (g_strv_length(halves) != 2 || !clock_time_parse(halves[0], &read.start_second) ||
        !clock_time_parse(halves[1], &read.end_second))
        return false;
    *quiet = read;
    return true;
}

bool quiet_covers(Quiet quiet, int32_t second)
{
    if (quiet.start_second <= quiet.end_second)
        return second >= quiet.start_second && second < quiet.end_second;
    return second >= quiet.start_second || second < quiet.end_second;
}

bool quiet_at(Quiet quiet, GTimeZone *zone, int64_t ms)
{
    return quiet_covers(quiet, zone_local(zone, ms).second);
}

/* The first instant in (from, to] whose offset is not that at from; the offsets at both must
 * differ. */
static int64_t offset_change(GTimeZone *zone, int64_t from, int64_t to)
{
    int32_t before = zone_offset(zone, from);

    while (to - from > SECOND_MS) {
        int64_t middle = from + (to - from) / SECOND_MS / 2 * SECOND_MS;

        if (zone_offset(zone, middle) == before)
            from = middle;
        else
            to = middle;
    }
    return to;
}

int64_t quiet_over(Quiet quiet, GTimeZone *zone, int64_t ms)
{
    for (int round = 0; round < ROUNDS_MAX; round++) {
        int32_t second = zone_local(zone, ms).second;

        if (!quiet_covers(quiet, second)) return ms;
        int32_t left = (quiet.end_second - second + DAY_SECONDS) % DAY_SECONDS;
        int64_t whole = divide_down(ms, SECOND_MS) * SECOND_MS;
        int64_t end = whole + left * SECOND_MS;

        /* A clock change on the way may end the quiet early or late: look again from there. */
        if (zone_offset(zone, whole) != zone_offset(zone, end))
            end = offset_change(zone, whole, end);
        ms = end;
    }
    return ms;
}
