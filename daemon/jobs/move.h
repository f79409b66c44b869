/* SPDX-License-Identifier: Apache-2.0 */
/* The move of a plan to another stage, as a clinician decided it. Store thread. */
#ifndef OSIER_DAEMON_JOBS_MOVE_H
#define OSIER_DAEMON_JOBS_MOVE_H

#include "daemon/desk/person.h"

/* Writes the move and makes the next session due anew. The plan's days follow the stage where they are not the client's
 * own: upkeep asks on fewer days. readiness: what it said at the time, taken over, or NULL. */
void move_write(Job *job, const Person *person, const Stage *to, const char *by, json_t *readiness);

/* The fields of a plan that say on which days: rule is the client's own, or NULL for the stage's. Added to fields. */
void move_days(json_t *fields, const Stage *stage, const char *rule);

#endif
