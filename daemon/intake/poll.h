/* SPDX-License-Identifier: Apache-2.0 */
/* Polls one gateway for what came in, or for receipts, from a stored cursor. */
#ifndef OSIER_DAEMON_INTAKE_POLL_H
#define OSIER_DAEMON_INTAKE_POLL_H

#include "adapters/net/net.h"
#include "daemon/intake/rounds.h"

typedef struct Poll Poll;

/* Told of each answer: was the gateway's host not reached, or was it? */
typedef void PollHeard(bool unreachable, void *context);

typedef enum { POLL_MESSAGES, POLL_RECEIPTS } PollOf;

/* Desk and net stay the caller's. */
Poll *poll_new(Desk *desk, Net *net, const char *gateway, PollOf of, PollHeard *heard,
               void *context);
void poll_free(Poll *poll);

/* When it asks; the poll's own. */
Rounds *poll_rounds(Poll *poll);

#endif
