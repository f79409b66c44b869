/* SPDX-License-Identifier: Apache-2.0 */
/* The clients' visits to their treating clinician: what is open is settled, range is measured, readiness is looked at, and
 * the move that it points to is confirmed. */
#ifndef OSIER_DAEMON_REHEARSAL_VISIT_H
#define OSIER_DAEMON_REHEARSAL_VISIT_H

#include "daemon/rehearsal/world.h"

/* Everybody's visits from start to end: the first in the second week, then every two weeks, while the clinic is open. */
void visits_plan(World *world, int64_t start_ms, int64_t end_ms);

void visit_move_free(void *move);

#endif
