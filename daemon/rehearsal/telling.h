/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal shows while the days go by: one line of progress, and each alert as it opens and
 * as it is closed. */
#ifndef OSIER_DAEMON_REHEARSAL_TELLING_H
#define OSIER_DAEMON_REHEARSAL_TELLING_H

#include "daemon/rehearsal/world.h"

typedef struct {
    int texts_out;
    int mails_out;
    int texts_in;
    int mails_in;
    int alerts;
} Tally;

typedef struct {
    bool terminal; /* the line of progress is rewritten; else one line a day */
    int days;
    int day;            /* from 1: the one that is told of */
    Tally before;       /* all up to that day */
    int alerts;         /* opened so far */
    guint moves;        /* told so far */
    gint64 shown_us;    /* when the line was last written, monotonic */
    GHashTable *states; /* alert -> the state that was told */
} Telling;

void telling_start(Telling *telling, int days);
void telling_end(Telling *telling);

/* Tells what is new among all alerts, an array as GET /alerts answers it. */
void telling_alerts(Telling *telling, World *world, const json_t *alerts);

/* Tells what clinicians have confirmed since, with what readiness went by. */
void telling_moves(Telling *telling, World *world);

/* Tells how far it is. */
void telling_progress(Telling *telling, const World *world);

/* Has another day begun since the line of progress was written? */
bool telling_day_over(const Telling *telling, const World *world);

/* "pain today 5, limit 4" of one reason of an alert of that kind (g_free). */
char *telling_reason(const json_t *reason, const char *kind);

/* Tells the figures of a summary and what lies in the folder of the results. */
void telling_results(const json_t *summary, const char *out);

#endif
