/* SPDX-License-Identifier: Apache-2.0 */
/* The sender heeds what other replicas recorded: their words are in the tables already; what follows from them (messages, calls,
 * the next session) is the sender's to do. Store thread. */
#ifndef OSIER_DAEMON_JOBS_HEED_H
#define OSIER_DAEMON_JOBS_HEED_H

#include "daemon/desk/desk.h"

/* events (of Event) are new here and were written elsewhere. Does nothing where this replica does not send. */
void heed_events(Job *job, const GPtrArray *events);

#endif
