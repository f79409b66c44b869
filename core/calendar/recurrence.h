/* SPDX-License-Identifier: Apache-2.0 */
/* RFC 5545 recurrence over local times; the zone only orders UNTIL and drops missing dates.
 * Bounded: a rule that yields nothing for 100,000 steps ends. */
#ifndef OSIER_CORE_CALENDAR_RECURRENCE_H
#define OSIER_CORE_CALENDAR_RECURRENCE_H

#include "core/calendar/zone.h"

typedef struct Recurrence Recurrence;

/* rule: "FREQ=DAILY;COUNT=10". The start counts as the first occurrence where the rule matches it (and also where it does not,
 * as DTSTART does in RFC 5545). NULL and *why (caller's to g_free) for a rule that cannot be read, is longer than 500 bytes,
 * matches no date at all, or uses what core/calendar/rule.h refuses. UNTIL in UTC is compared as an instant in the zone; a
 * local UNTIL as local time. */
Recurrence *recurrence_new(const char *rule, LocalTime start, GTimeZone *zone, char **why);
void recurrence_free(Recurrence *recurrence);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Recurrence, recurrence_free)

/* Whether the rule has COUNT or UNTIL. */
bool recurrence_limited(const Recurrence *recurrence);

/* The next occurrence: local is what was asked for, ms its instant, kind what the zone did to it. A local date that does
 * not exist gives no occurrence but uses up its COUNT. False at the end. */
bool recurrence_next(Recurrence *recurrence, LocalTime *local, int64_t *ms, LocalKind *kind);

#endif
