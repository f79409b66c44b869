/* SPDX-License-Identifier: Apache-2.0 */
/* A rehearsal from beginning to end: the real osierd on a made-up clock, stepped from one instant
 * that matters to the next, amid a world of stand-ins. */
#ifndef OSIER_DAEMON_REHEARSAL_DRIVER_H
#define OSIER_DAEMON_REHEARSAL_DRIVER_H

#include "core/calendar/date.h"

typedef struct {
    const char *clinic; /* the folder whose settings are used */
    const char *out;    /* where the results go: absent or empty */
    Day from;
    int days; /* 1 to 366 */
    gint64 seed;
    int clients; /* the first so many of the cast; 0: all */
    bool json;   /* nothing is shown but the summary, as JSON, at the end */
} Rehearsal;

/* Runs it, showing the days on standard output. The exit code; mistakes were told on standard
 * error. */
int rehearse(const Rehearsal *rehearsal);

#endif
