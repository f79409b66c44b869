/* SPDX-License-Identifier: Apache-2.0 */
/* What the relay does with the outbox as a whole. Jobs: store thread. */
#ifndef OSIER_DAEMON_RELAY_RELAY_JOBS_H
#define OSIER_DAEMON_RELAY_RELAY_JOBS_H

#include "daemon/desk/desk.h"

/* Messages of a channel for which the settings have no gateway are given up. */
bool relay_give_up_job(Job *job, void *context);

/* The line is back: what waits goes soon. */
bool relay_return_job(Job *job, void *context);

/* Messages bound to a gateway that is no more are free to go by another. */
bool relay_unbind_job(Job *job, void *context);

/* Before the first claim: messages that were being written at the last stop find their fate. */
bool relay_interrupted_job(Job *job, void *context);

#endif
