/* SPDX-License-Identifier: Apache-2.0 */
/* When a gateway is asked next for what came in: again at once while it brings what is new, slower
 * while it fails; and what is written down where it was deaf for long. */
#ifndef OSIER_DAEMON_INTAKE_ROUNDS_H
#define OSIER_DAEMON_INTAKE_ROUNDS_H

#include "daemon/desk/desk.h"

typedef struct {
    Desk *desk;
    char *name; /* of the gateway */
    Timer *timer;
    bool silent; /* while it fails nothing of clients is missed */
    bool running;
    bool busy;
    bool full; /* the last round brought something new: there may be more */
    int failures;
    int64_t last_ms;  /* of the last good answer; 0: none yet */
    int64_t since_ms; /* that, or when asking began: from then on nothing was heard */
} Rounds;

/* round is called when it is time to ask. Desk stays the caller's. */
void rounds_init(Rounds *rounds, Desk *desk, const char *gateway, TimerFire *round, void *context);
void rounds_clear(Rounds *rounds);

/* Asks now; asks no more. */
void rounds_start(Rounds *rounds);
void rounds_stop(Rounds *rounds);

/* A good answer, or none. */
void rounds_good(Rounds *rounds);
void rounds_failed(Rounds *rounds);

/* The round is over. every_ms: how often the settings say; 0: no more. */
void rounds_end(Rounds *rounds, int64_t every_ms);

/* {"name", "last": instant of the last good answer or null, "failures"}, new reference. */
json_t *rounds_json(const Rounds *rounds);

#endif
