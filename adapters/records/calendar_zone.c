/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/calendar_zone.h"

/* Clocks do not change twice within that. */
#define STEP_MS (6 * HOUR_MS)

static void add_change(icalcomponent *zone, int64_t ms, int32_t before, int32_t after)
{
    int64_t local = divide_down(ms, SECOND_MS) + before;
    int year, month, mday;

    day_to_civil((Day)divide_down(local, 86400), &year, &month, &mday);
    int second = (int)(local - divide_down(local, 86400) * 86400);
    icalcomponent *change =
        after > before ? icalcomponent_new_xdaylight() : icalcomponent_new_xstandard();
    icalcomponent_add_property(change,
                               icalproperty_new_dtstart((icaltimetype){.year = year,
                                                                       .month = month,
                                                                       .day = mday,
                                                                       .hour = second / 3600,
                                                                       .minute = second / 60 % 60,
                                                                       .second = second % 60}));
    icalcomponent_add_property(change, icalproperty_new_tzoffsetfrom(before));
    icalcomponent_add_property(change, icalproperty_new_tzoffsetto(after));
    icalcomponent_add_component(zone, change);
}

/* The first instant of the later offset, to the second, between two of which the offsets differ. */
static int64_t change_between(GTimeZone *zone, int64_t low_ms, int64_t high_ms)
{
    int32_t before = zone_offset(zone, low_ms);

    while (high_ms - low_ms > SECOND_MS) {
        int64_t middle = low_ms + (high_ms - low_ms) / SECOND_MS / 2 * SECOND_MS;
        if (zone_offset(zone, middle) == before)
            low_ms = middle;
        else
            high_ms = middle;
    }
    return high_ms;
}

icalcomponent *calendar_zone(const char *id, GTimeZone *zone, Day from, int days)
{
    icalcomponent *component = icalcomponent_new_vtimezone();
    int64_t start = ((int64_t)from - 1) * DAY_MS;
    int32_t offset = zone_offset(zone, start);

    icalcomponent_add_property(component, icalproperty_new_tzid(id));
    add_change(component, start, offset, offset);
    for (int64_t at = start; at < start + days * DAY_MS; at += STEP_MS) {
        int32_t next = zone_offset(zone, at + STEP_MS);
        if (next == offset) continue;
        add_change(component, change_between(zone, at, at + STEP_MS), offset, next);
        offset = next;
    }
    return component;
}
