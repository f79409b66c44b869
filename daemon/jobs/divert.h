/* SPDX-License-Identifier: Apache-2.0 */
/* Messages whose channel has no gateway left that works go by another that the client has consented to. Store thread. */
#ifndef OSIER_DAEMON_JOBS_DIVERT_H
#define OSIER_DAEMON_JOBS_DIVERT_H

#include "core/clinic/route.h"
#include "daemon/desk/desk.h"

/* Moves the due messages of some clients, those after *after ("" at first) in order of their ids, from a channel to the
 * other. none: what no gateway of the channel takes now. *after is replaced; NULL once all have been seen. */
void divert_page(Job *job, Channel from, const Route *none, char **after);

#endif
