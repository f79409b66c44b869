/* SPDX-License-Identifier: Apache-2.0 */
/* What a clinician must act on: what a reading or a run of sessions amounts to, with its reasons.
 * Decides nothing clinical; the limits are the clinic's. */
#ifndef OSIER_CORE_WATCH_MATTER_H
#define OSIER_CORE_WATCH_MATTER_H

#include "core/clinic/reason.h"
#include "core/talk/reading.h"

typedef enum { ALERT_NONE, ALERT_NOW, ALERT_TODAY, ALERT_FOR_DIGEST } AlertClass;

const char *alert_class_name(AlertClass class); /* "now", "today", "digest", NULL for none */
AlertClass alert_class_from_name(const char *name);

typedef struct {
    int pain_now;
    int pain_today;
    int intensity_high;
    double usual_pain; /* of this client; -1 where nobody has asked: taken as 0 */
} MatterLimits;

typedef struct {
    const char *kind; /* a warning's name, "pain", "strong-stretch"; static */
    AlertClass class;
    bool hold;
    json_t *reasons; /* array of {rule, value, limit, met} or with words; owned */
} Matter;

/* The words of the reason of an undeliverable message that is the weekly digest. */
#define MATTER_DIGEST_WORDS "digest"

void matter_clear(Matter *matter);

/* One reading amounts to at most one matter: the gravest, the rest among its reasons. class is
 * ALERT_NONE where it is none. A bare 7 or more that may be stretch or pain counts as pain until
 * the client says 'stretch'. */
void matter_of_reading(const Reading *reading, const MatterLimits *limits, Matter *matter);

/* What an alert of that kind with those reasons is named in words: its kind, but "pain-unsaid" where a bare number is all
 * that speaks for pain, and "digest-lost" where it is the clinic's weekly digest that was undeliverable. Static, or kind itself. */
const char *matter_named(const char *kind, const json_t *reasons);

/* The class of a warning sign: now for heart, stroke, cauda, crisis; today for the rest. */
AlertClass warning_class(ReadWarning warning);

/* The days in a row, up to and with the last, on which something was asked and nothing was done or
 * partly done. A day with only unasked or excused sessions neither counts nor breaks the run.
 * states: one per session, newest first. */
typedef struct {
    int32_t date;
    const char *state;
} DatedState;
int missed_run(const DatedState *states, int n);

#endif
