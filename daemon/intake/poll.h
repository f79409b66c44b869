/* SPDX-License-Identifier: Apache-2.0 */
/* Polls one gateway for what came in, from a stored cursor. */
#ifndef OSIER_DAEMON_INTAKE_POLL_H
#define OSIER_DAEMON_INTAKE_POLL_H

#include "adapters/net/net.h"
#include "daemon/desk/desk.h"

typedef struct Poll Poll;

/* Told of each answer: was the gateway's host not reached, or was it? */
typedef void PollHeard(bool unreachable, void *context);

/* Desk and net stay the caller's. */
Poll *poll_new(Desk *desk, Net *net, const char *gateway, PollHeard *heard, void *context);
void poll_free(Poll *poll);

/* Asks now, then as often as the settings say; slower while the gateway fails. */
void poll_start(Poll *poll);
void poll_stop(Poll *poll);

const char *poll_name(const Poll *poll);
bool poll_busy(const Poll *poll);

/* {"name", "last": instant of the last good answer or null, "failures"}, new reference. */
json_t *poll_json(const Poll *poll);

#endif
