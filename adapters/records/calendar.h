/* SPDX-License-Identifier: Apache-2.0 */
/* Calendar files (RFC 5545, RFC 7986) of a client's sessions and of the clinic's review dates. Pure: zones arrive ready-made, and
 * the file carries its own VTIMEZONE, so that every reader comes to the instants that osier means. */
#ifndef OSIER_ADAPTERS_RECORDS_CALENDAR_H
#define OSIER_ADAPTERS_RECORDS_CALENDAR_H

#include "core/calendar/sessions.h"

typedef struct {
    const char *client;
    const char *name;    /* of the calendar */
    const char *summary; /* of each session; holds no diagnosis and no name */
    const char *text;    /* what is asked for, or NULL */
    const char *source;  /* the feed's address, or NULL */
    const char *zone_id;
    GTimeZone *zone;
    const SessionTimes *times; /* n_times 0: no plan, an empty calendar */
    int64_t now_ms;            /* DTSTAMP */
} CalendarPlan;

/* The file (g_free). Each time of day is one event that repeats by the plan's rule, a quarter of an hour long, with an alarm at
 * its start. In the two years to come a time that the clocks skip or show twice stands as an event of its own in UTC, as RFC
 * 5545 section 3.3.5 reads it, for readers differ there. A date that does not exist is left in the series: it falls on the
 * instant of the day before or after, and an EXDATE for it would take that one out. */
char *calendar_sessions(const CalendarPlan *plan);

typedef struct {
    const char *client;
    const char *summary; /* initials and id */
    Day review;
} CalendarReview;

/* Review dates as all-day events (g_free). reviews: GArray of CalendarReview. */
char *calendar_reviews(const char *name, const GArray *reviews, int64_t now_ms);

#endif
