/* SPDX-License-Identifier: Apache-2.0 */
/* The clinicians on the duty list, who take alerts and close them, and the clinic's desk, which
 * rings the landlines and reads what a person must read. */
#ifndef OSIER_DAEMON_REHEARSAL_STAFF_H
#define OSIER_DAEMON_REHEARSAL_STAFF_H

#include "daemon/rehearsal/world.h"

/* A text or mail has reached a clinician: key and values as understand() gives them. */
void staff_hear(World *world, const DutyPerson *person, const char *key, GHashTable *values);

/* The desk's rounds of every day from start to end. */
void staff_plan_rounds(World *world, int64_t start_ms, int64_t end_ms);

#endif
