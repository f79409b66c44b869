/* SPDX-License-Identifier: Apache-2.0 */
/* A time in which nothing is heard, written down while it lasts and when it ends, so that whoever asks meanwhile (the digest above
 * all) knows of it, and a restart forgets nothing. On the loop. */
#ifndef OSIER_DAEMON_INTAKE_UNHEARD_H
#define OSIER_DAEMON_INTAKE_UNHEARD_H

#include "daemon/desk/desk.h"

/* A time that lasts is written down each time that so much of it has passed. */
#define UNHEARD_EVERY_MS HOUR_MS

typedef struct {
    Desk *desk;
    char *why;        /* what is written of it */
    int64_t since_ms; /* when it began */
    int64_t noted_ms; /* so far it is written down */
} Unheard;

/* why is taken over. */
void unheard_init(Unheard *unheard, Desk *desk, char *why);
void unheard_clear(Unheard *unheard);

/* It begins, or begins anew: nothing is written down of it. */
void unheard_begin(Unheard *unheard, int64_t since_ms);

/* Writes down what of it is not yet. */
void unheard_note(Unheard *unheard);

#endif
