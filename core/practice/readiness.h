/* SPDX-License-Identifier: Apache-2.0 */
/* Is a client ready to move on? A verdict with every rule, value and limit behind it; a clinician
 * confirms, always.
 *
 * Windows are counted in answered sessions. Silence counts neither way: a silent session fills no
 * place in a window, and neither does one that was never asked or was excused. (A run of missed
 * days opens an alert elsewhere, and an open alert keeps from moving on.) A window looks back no
 * further than READY_LOOK_BACK times its length in asked sessions, the start of the stage, or the
 * last long break. */
#ifndef OSIER_CORE_PRACTICE_READINESS_H
#define OSIER_CORE_PRACTICE_READINESS_H

#include "core/calendar/date.h"
#include "core/clinic/reason.h"
#include "core/practice/measure.h"

#define READY_LOOK_BACK 3
#define READY_UNTOLD (-1.0)    /* no figure was told */
#define READY_PAIN_SOME (-2.0) /* pain was told without a figure: keeps from moving on */

typedef enum {
    READY_DONE,
    READY_PARTLY,
    READY_NOT,
    READY_SILENT,
    READY_UNASKED,
    READY_EXCUSED,
    READY_OPEN /* planned, or asked and still within its time: left out */
} ReadyState;

typedef struct {
    Day day;
    ReadyState state;
    double intensity; /* 0 to 10, or READY_UNTOLD */
    double pain;      /* 0 to 10, READY_UNTOLD or READY_PAIN_SOME */
} ReadySession;

typedef struct {
    Day day;
    const char *measure;  /* "leg-raise" */
    const char *method;   /* "goniometer" */
    const char *landmark; /* or NULL: the method's own */
    bool right;
    double value;
} ReadyReading;

typedef struct {
    const Programme *programme;
    const Stage *stage;
    Day today;
    Day stage_since;
    const ReadySession *sessions; /* oldest first, of this and earlier stages */
    int n_sessions;
    const ReadyReading *readings; /* oldest first */
    int n_readings;
    double usual_pain; /* 0 to 10; -1 where nobody has asked: taken as 0 */
    bool left;
    bool right; /* the sides of the plan */
    double goal_left;
    double goal_right; /* the client's own; -1: the programme's */
    int open_alerts;   /* open or taken */
    int holds;
    bool screen_due; /* after hospital, fracture or operation: a clinician screens again first */
    const char *next_barred; /* why the screen rules the next stage out, or NULL */
    const char *back_barred; /* and the one before */
    char felt;               /* latest letter of the weekly question, 0 where none */
    Day felt_day;
} ReadyAsk;

typedef enum { READY_MOVE_ON, READY_STAY, READY_STEP_BACK } ReadyVerdict;

typedef struct {
    ReadyVerdict verdict;
    const Stage *to;     /* the stage that the verdict points to; the present one for stay */
    bool window_void;    /* too many days off: ask what happened */
    bool one_dose_lower; /* and go on one dose lower until the window is full again */
    Reasons reasons;
} ReadyAnswer;

/* Never READY_MOVE_ON with an open alert, a hold, a screen due, a stage that the screen rules out or a void window,
 * whatever else is given. */
void readiness_of(const ReadyAsk *ask, ReadyAnswer *answer);

/* The document of `osier ready`: {"verdict", "reasons", "stage", "to", "window_void",
 * "one_dose_lower"}. New reference. In the reasons of moving on, met says that the rule is
 * satisfied; in those that begin "step back" that it speaks for stepping back. */
json_t *readiness_json(const ReadyAsk *ask, const ReadyAnswer *answer);

/* "move on", "stay", "step back". */
const char *ready_verdict_name(ReadyVerdict verdict);

/* "done", "partly", "not", "silent", "unasked", "excused"; READY_OPEN for anything else. */
ReadyState ready_state_from_name(const char *name);

/* Does a pause of that reason call for a fresh screen? "hospital", "fracture", "operation". */
bool absence_needs_screen(const char *why);

#endif
