/* SPDX-License-Identifier: Apache-2.0 */
/* The sessions of a plan: which local dates its rule gives, and the times of day on each. */
#ifndef OSIER_CORE_CALENDAR_SESSIONS_H
#define OSIER_CORE_CALENDAR_SESSIONS_H

#include "core/calendar/recurrence.h"

#define SESSION_TIMES_MAX 6

/* rule is NULL for every day. times are seconds of the local day, rising, 1 to SESSION_TIMES_MAX of them.
 * from is the first date the plan may give a session on (it gives one only where the rule matches it, unlike DTSTART in
 * RFC 5545); to the last, or 0 for none. COUNT counts what the rule matches, UNTIL bounds each session by itself. A rule
 * that recurrence_new refuses gives no sessions. */
typedef struct {
    const char *rule;
    Day from;
    Day to;
    int32_t times[SESSION_TIMES_MAX];
    int n_times;
    ZoneStretch *near; /* lent, of the zone that is asked about; or NULL */
} SessionTimes;

/* One dated session: slot is the ordinal of its time that day, from 1. */
typedef struct {
    Day date;
    int slot;
    LocalTime local;
    int64_t ms;
    LocalKind kind;
} SessionInstant;

/* Fills out (an empty GArray of SessionInstant) with the sessions on the dates from..from+days-1, in order of instant.
 * Rules are expanded from the plan's own start, so that INTERVAL and COUNT hold. days at most 3700. */
void sessions_on(const SessionTimes *times, GTimeZone *zone, Day from, int days, GArray *out);

/* The first session whose instant is after ms. False where the plan has none left. Of two at one
 * instant (a clock change can bring them together) the one earlier by local time. Rules up to the week without COUNT
 * take constant time. */
bool sessions_after(const SessionTimes *times, GTimeZone *zone, int64_t ms, SessionInstant *next);

#endif
