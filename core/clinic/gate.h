/* SPDX-License-Identifier: Apache-2.0 */
/* The last gate: may this message go to this person now? Asked when a message is made and again
 * when it is about to be written. */
#ifndef OSIER_CORE_CLINIC_GATE_H
#define OSIER_CORE_CLINIC_GATE_H

#include "core/wire/message.h"

typedef enum { GATE_GO, GATE_LATER, GATE_NEVER } GateAnswer;

/* What is known at the gate. The bars are those in force now. */
typedef struct {
    MessageKind kind;
    bool to_staff; /* an alert, a digest, a word to a clinician: only the end binds */
    int64_t now_ms;
    int64_t end_ms; /* 0: no end */
    bool consent;   /* to this channel */
    bool stopped;
    bool held;
    bool paused;
    bool suspended;
    bool ended;
    bool erased; /* the client, or the address, of somebody who was erased */
    bool quiet;
    int64_t quiet_over_ms; /* the first instant that is not quiet */
    int sent_today;        /* messages that osier started, of this client's local day */
    int per_day_max;
} GateCase;

typedef struct {
    GateAnswer answer;
    int64_t at_ms;    /* GATE_LATER: not before */
    const char *rule; /* what forbids it, static text; NULL where it may go */
} GateVerdict;

/* Does osier start a message of this kind (reminder, nudge, check-in, welcome), so that cap and
 * bars bind it? */
bool message_is_started(MessageKind kind);

/* Is it an answer that quiet hours and cap do not bind (to STOP, HELP, a warning sign)? */
bool message_is_exempt(MessageKind kind);

GateVerdict gate_judge(const GateCase *gate);

#endif
