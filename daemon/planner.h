/* SPDX-License-Identifier: Apache-2.0 */
/* The planner: one timer for the next due thing; when it fires, due things are met in pages, each
 * in a job. */
#ifndef OSIER_DAEMON_PLANNER_H
#define OSIER_DAEMON_PLANNER_H

#include "daemon/desk/desk.h"
#include "daemon/paint/painter.h"
#include "daemon/relay/relay.h"

typedef struct Planner Planner;

/* All stay the caller's. */
Planner *planner_new(Desk *desk, Painter *painter, Relay *relay);
void planner_free(Planner *planner);

/* Something is due at that instant (INT64_MAX: nothing). */
void planner_next(Planner *planner, int64_t due_ms);

/* Meets nothing more. */
void planner_stop(Planner *planner);

#endif
