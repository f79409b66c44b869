/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal shows while the days go by: one line of progress, and each alert as it opens and
 * as it is closed. */
#ifndef OSIER_DAEMON_REHEARSAL_TELLING_H
#define OSIER_DAEMON_REHEARSAL_TELLING_H

#include "daemon/rehearsal/world.h"

typedef struct {
    bool terminal; /* the line of progress is rewritten; else one line a day */
    int days;
    int day;            /* the last that was told of */
    int alerts;         /* opened so far */
    gint64 shown_us;    /* when the line was last written, monotonic */
    GHashTable *states; /* alert -> the state that was told */
} Telling;

void telling_start(Telling *telling, int days);
void telling_end(Telling *telling);

/* Tells what is new among all alerts, an array as GET /alerts answers it. */
void telling_alerts(Telling *telling, World *world, const json_t *alerts);

/* Tells how far it is. */
void telling_progress(Telling *telling, const World *world);

/* "pain 5 (limit 4)" of one reason (g_free). */
char *telling_reason(const json_t *reason);

#endif
