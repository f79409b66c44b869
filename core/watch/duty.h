/* SPDX-License-Identifier: Apache-2.0 */
/* Who is called next about an alert, and when: the treating clinician first, then down the duty
 * list, then again. */
#ifndef OSIER_CORE_WATCH_DUTY_H
#define OSIER_CORE_WATCH_DUTY_H

#include "core/clinic/clinic.h"
#include "core/watch/matter.h"

typedef struct {
    const DutyPerson *person; /* lives as long as the clinic */
    int64_t at_ms;
    bool again; /* the list starts anew with this call */
} DutyCall;

/* What is known of an alert when somebody is to be called. */
typedef struct {
    AlertClass class;
    const char *treating; /* the client's own clinician, who is called first, or NULL */
    const char *taker;    /* who took it and brought it no further, or NULL */
    int passed;           /* calls that were made */
    int64_t last_ms;      /* when the last was; ignored where passed is 0 */
} DutyCase;

/* zone: the clinic's. An alert of class now is passed at any hour; one of class today only within clinic
 * hours and no sooner than two hours after the call before; once the list has been gone through twice, it is passed once on each
 * day on which the clinic is open, for ever, so that texts are few enough to be read. People who are away on the local date
 * of now_ms are left out, unless all are; the one who fires the call asks again then. The taker has it
 * already, and is called only where nobody else is there. False for other classes or an empty list. */
bool duty_next(const Clinic *clinic, GTimeZone *zone, const DutyCase *alert, int64_t now_ms,
               DutyCall *call);

/* The person with that number, or NULL; NULL for no number. */
const DutyPerson *duty_by_number(const Clinic *clinic, const char *number);

#endif
