/* SPDX-License-Identifier: Apache-2.0 */
/* A reminder that has waited, before it leaves: the plan may have been set anew since it was made. Store thread. */
#ifndef OSIER_DAEMON_JOBS_REPLANNED_H
#define OSIER_DAEMON_JOBS_REPLANNED_H

#include "core/clinic/gate.h"
#include "daemon/desk/person.h"

/* Forbids the reminder (a row of the outbox, to a person of that plan) where the plan has no session on its day any more, and
 * words a mail by the stage that the plan is at now. Of a session that has moved to another time of that day it goes: there is no
 * second one. */
void replanned_judge(Job *job, const Person *person, Row *reminder, GateVerdict *verdict);

#endif
