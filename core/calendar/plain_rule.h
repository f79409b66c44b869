/* SPDX-License-Identifier: Apache-2.0 */
/* The rules that nearly every plan has, "FREQ=DAILY" and "FREQ=WEEKLY" with INTERVAL, BYDAY and WKST, as arithmetic on dates.
 * What it gives is what an expansion gives, at a small part of the cost. */
#ifndef OSIER_CORE_CALENDAR_PLAIN_RULE_H
#define OSIER_CORE_CALENDAR_PLAIN_RULE_H

#include "core/calendar/date.h"

typedef struct {
    Day from;       /* no date before it */
    Day week_first; /* the first day of the week that from lies in; from itself for a daily rule */
    int interval;   /* of days or weeks */
    bool weekly;
    uint8_t weekdays; /* bit 0 Monday to bit 6 Sunday */
} PlainRule;

/* Reads a rule (NULL: every day) of a plan that begins on from. False where it is anything else, or not a rule at all: then
 * rule_parse says which. */
bool plain_rule_read(const char *text, Day from, PlainRule *rule);

/* The first date of the rule at or after day. False past the year 9999. */
bool plain_rule_next(const PlainRule *rule, Day day, Day *date);

#endif
