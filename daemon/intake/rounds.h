/* SPDX-License-Identifier: Apache-2.0 */
/* When a gateway is asked next for what came in: again at once while it brings what is new, slower
 * while it fails; and what follows where nothing was heard from it for long. */
#ifndef OSIER_DAEMON_INTAKE_ROUNDS_H
#define OSIER_DAEMON_INTAKE_ROUNDS_H

#include "daemon/intake/unheard.h"

/* What those who send know. heard is told of each poll's answer: was the gateway's host not reached, or was it? Is the clinic's
 * line down? Is it known already that this gateway is sick? */
typedef struct {
    void (*heard)(bool unreachable, void *context);
    bool (*cut_off)(void *context);
    bool (*blamed)(const char *gateway, void *context);
    void *context;
} IntakeWatch;

typedef struct {
    const IntakeWatch *watch;
    Desk *desk;
    char *name; /* of the gateway */
    Timer *timer;
    bool silent; /* while it fails nothing of clients is missed */
    bool running;
    bool busy;
    bool full; /* the last round brought something new: there may be more */
    int failures;
    int64_t last_ms; /* of the last good answer; 0: none yet */
    Unheard unheard; /* since that, or since asking began */
    int64_t back_ms; /* when the clinic's line was last back */
    bool heard;      /* it has answered since asking began */
    bool told;       /* in an alert, that nothing is heard from it */
} Rounds;

/* round is called when it is time to ask. Desk and watch stay the caller's. */
void rounds_init(Rounds *rounds, Desk *desk, const IntakeWatch *watch, const char *gateway,
                 TimerFire *round, void *context);
void rounds_clear(Rounds *rounds);

/* Asks now; asks no more. */
void rounds_start(Rounds *rounds);
void rounds_stop(Rounds *rounds);

/* The clinic's line is back: asks now. */
void rounds_back(Rounds *rounds);

/* A good answer, or none. After an hour without one a clinician hears of it, unless the line is down or the gateway is known to
 * be sick; when it answers again, that matter is closed. */
void rounds_good(Rounds *rounds);
void rounds_failed(Rounds *rounds);

/* The round is over. every_ms: how often the settings say; 0: no more. */
void rounds_end(Rounds *rounds, int64_t every_ms);

/* {"name", "last": instant of the last good answer or null, "failures"}, new reference. */
json_t *rounds_json(const Rounds *rounds);

#endif
