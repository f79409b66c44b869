/* SPDX-License-Identifier: Apache-2.0 */
/* Polls one gateway for what came in, or for receipts, from a stored cursor. */
#ifndef OSIER_DAEMON_INTAKE_POLL_H
#define OSIER_DAEMON_INTAKE_POLL_H

#include "adapters/net/net.h"
#include "daemon/intake/rounds.h"

typedef struct Poll Poll;

typedef enum { POLL_MESSAGES, POLL_RECEIPTS } PollOf;

/* Desk, net and watch stay the caller's. */
Poll *poll_new(Desk *desk, Net *net, const IntakeWatch *watch, const char *gateway, PollOf of);
void poll_free(Poll *poll);

/* When it asks; the poll's own. */
Rounds *poll_rounds(Poll *poll);

#endif
