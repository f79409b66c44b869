/* SPDX-License-Identifier: Apache-2.0 */
/* What the sender does once two ids turn out to be one client's. Store thread. */
#ifndef OSIER_DAEMON_JOBS_SAME_H
#define OSIER_DAEMON_JOBS_SAME_H

#include "daemon/desk/desk.h"

/* What is due, waits or is given out under any id of the client goes on under the one that it is kept under; a reminder that
 * waits under another lapses, so that one is sent. client: any of the ids; the event that joined them is in the ledger. */
void same_settle(Job *job, const char *client);

#endif
