/* SPDX-License-Identifier: Apache-2.0 */
/* Where a client begins, and which set-ups are theirs: from the screen, the angle measured and
 * where the stretch is felt. When unsure the answer is the clinician, who then names the stage. */
#ifndef OSIER_CORE_PRACTICE_START_H
#define OSIER_CORE_PRACTICE_START_H

#include "core/clinic/reason.h"
#include "core/practice/geometry.h"

/* What the screen found. findings are as the clinician wrote them. */
typedef struct {
    bool floor; /* gets down to the floor and up again alone */
    const char *const *findings;
    int n_findings;
} ScreenFound;

typedef struct {
    ScreenFound screen;
    double angle_deg; /* leg raise, 0 to 180; -1 where not measured */
    const char *felt; /* "calf", "knee", "thigh", "sit-bone", "electric", or NULL */
    double leg_cm;    /* 0 where neither leg nor stature is known */
} StartAsk;

typedef struct {
    const Stage *stage; /* NULL: the clinician first */
    const Setup *setup; /* NULL where the stage needs none, or the clinician is first */
    bool laid;          /* where to lie is known: lay */
    Lay lay;
    Reasons reasons; /* met: this rule decided, or speaks against */
} StartAnswer;

/* The places that may be named as felt, NULL-ended. */
extern const char *const FELT_PLACES[];

/* Works out the start. Never fails: where no rule fits, or a finding is read by none, the clinician
 * is first. */
void start_find(const Programme *programme, const StartAsk *ask, StartAnswer *answer);

/* {"stage", "set_up", "clinician_first", "start_at", "reasons"}, a new reference. */
json_t *start_json(const StartAnswer *answer);

/* The findings that a text of the screen amounts to, by their words, as whole words in any case;
 * the number of them, at most max. 0: no rule reads it, and a person must. */
int findings_in(const Programme *programme, const char *text, const Finding **out, int max);

/* May this client use the set-up, or be at the stage? Where not, *because (lent) says why. Floor
 * set-ups need the floor. */
bool setup_allowed(const Programme *programme, const Setup *setup, const ScreenFound *screen,
                   const char **because);
bool stage_allowed(const Programme *programme, const Stage *stage, const ScreenFound *screen,
                   const char **because);

/* The set-up for a movement: wanted (or NULL) where it is one of the movement's and allowed, else
 * the first allowed. NULL where the movement needs none, or none of its set-ups is allowed. */
const Setup *movement_setup(const Programme *programme, const Movement *movement,
                            const ScreenFound *screen, const char *wanted);

#endif
