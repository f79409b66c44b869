/* SPDX-License-Identifier: Apache-2.0 */
/* The local times that a rule matches, in order, before COUNT, UNTIL and the zone have their say. */
#ifndef OSIER_CORE_CALENDAR_EXPANSION_H
#define OSIER_CORE_CALENDAR_EXPANSION_H

#include "core/calendar/rule.h"

typedef struct Expansion Expansion;

/* Matches at or after start, which also lends the rule what it leaves open (time of day, weekday, day of month). rule
 * must outlive the expansion. NULL for a monthly or yearly rule that names no date there is, such as 30 February; to
 * find that out takes up to two seconds. */
Expansion *expansion_new(const Rule *rule, LocalTime start);
void expansion_free(Expansion *expansion);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Expansion, expansion_free)

/* False at the end: past the year 9999 (2582 for monthly and yearly rules, where libical ends), or where 100,000 steps
 * of the rule matched nothing. */
bool expansion_next(Expansion *expansion, LocalTime *local);

/* Drops all matches before the date. Constant time up to FREQ=WEEKLY; monthly and yearly rules walk there. */
void expansion_seek(Expansion *expansion, Day day);

#endif
