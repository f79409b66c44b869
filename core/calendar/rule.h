/* SPDX-License-Identifier: Apache-2.0 */
/* A recurrence rule (RFC 5545 section 3.3.10), read by libical and checked for what the RFC forbids or libical lets
 * through. COUNT and UNTIL are taken out of its parts: whoever expands the rule applies them. */
#ifndef OSIER_CORE_CALENDAR_RULE_H
#define OSIER_CORE_CALENDAR_RULE_H

#include <libical/ical.h>

#include "core/calendar/zone.h"

#define RULE_BYTES_MAX 500

typedef enum {
    UNTIL_NONE,
    UNTIL_DATE,  /* the whole local date counts */
    UNTIL_LOCAL, /* compared as local time */
    UNTIL_UTC    /* compared as an instant */
} UntilKind;

/* A plain value: copy it, throw it away. */
typedef struct {
    struct icalrecurrencetype parts; /* without COUNT and UNTIL */
    int count;                       /* 0: unlimited */
    UntilKind until_kind;
    LocalTime until; /* in UTC where until_kind says so */
} Rule;

/* Reads "FREQ=DAILY;COUNT=10". False and *why (caller's to g_free) for a rule that cannot be read, is longer than
 * RULE_BYTES_MAX, or uses what osier does not: RSCALE and SKIP (RFC 7529), more than 1440 times a day in a rule of a
 * day or longer, rare pairs of BY parts in yearly rules, and BYSETPOS beside several times of day in a monthly or yearly rule. */
bool rule_parse(const char *text, Rule *rule, char **why);

/* Whether UNTIL has passed at this occurrence. ms is the instant of local. */
bool rule_over(const Rule *rule, LocalTime local, int64_t ms);

/* Whether UNTIL lies so far before the date that no later occurrence can be within it, whatever the zone. */
bool rule_over_by(const Rule *rule, Day day);

#endif
