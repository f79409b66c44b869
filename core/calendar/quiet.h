/* SPDX-License-Identifier: Apache-2.0 */
/* Quiet hours: the part of the client's day in which osier starts no message. */
#ifndef OSIER_CORE_CALENDAR_QUIET_H
#define OSIER_CORE_CALENDAR_QUIET_H

#include "core/calendar/zone.h"

/* From start to end in seconds of the local day; start after end spans midnight; equal means no quiet hours.
 * The start is quiet, the end is not (21:00 is closed, 08:00 is open). */
typedef struct {
    int32_t start_second;
    int32_t end_second;
} Quiet;

/* Reads "21:00-08:00". */
bool quiet_parse(const char *text, Quiet *quiet);
bool quiet_covers(Quiet quiet, int32_t second);
bool quiet_at(Quiet quiet, GTimeZone *zone, int64_t ms);

/* The first instant at or after ms that is not quiet; ms itself where it is not. */
int64_t quiet_over(Quiet quiet, GTimeZone *zone, int64_t ms);

#endif
