/* SPDX-License-Identifier: Apache-2.0 */
/* A rehearsal: the real osierd, stepped, on a new store, against a world of stand-ins in this process. */
#ifndef OSIER_DAEMON_REHEARSAL_REHEARSAL_H
#define OSIER_DAEMON_REHEARSAL_REHEARSAL_H

#include "core/calendar/date.h"

typedef struct {
    const char *clinic; /* folder whose settings are used */
    const char *out;    /* folder that is made, or empty */
    Day from;
    int days;
    int64_t seed;
    bool quiet; /* no progress, no digest: only the paths are written */
} RehearsalPlan;

/* Runs it. An exit code; what is wrong has been said. */
int rehearsal_run(const RehearsalPlan *plan);

#endif
