/* SPDX-License-Identifier: Apache-2.0 */
/* A second osierd of a clinic whose store is a schema on a server: it does nothing but look, every second, whether another works on
 * the schema, until it may take the work over. Why one works and the others stand by: docs/decisions/0008. */
#ifndef OSIER_DAEMON_STANDBY_STANDBY_H
#define OSIER_DAEMON_STANDBY_STANDBY_H

#include <uv.h>

#include "adapters/serve/serve.h"
#include "adapters/store/place.h"
#include "daemon/log/log.h"

typedef struct Standby Standby;

/* On the loop, once: the schema was free for long enough. */
typedef void StandbyOver(void *context);

/* Begins to look. place is copied, log lent. lease_ms: see LEASE_MS in lease.h; 0 where the clock is made up, for claims then
 * age by that. */
Standby *standby_new(uv_loop_t *loop, const PostgresPlace *place, Log *log, int64_t lease_ms,
                     StandbyOver *over, void *context);

/* Looks no more. Ends with the look under way, by a turn of the loop. */
void standby_close(Standby *standby);

/* Answers a call on the control socket: what it does, and to whom to go. */
void standby_answer(const Standby *standby, ServeRequest *request);

#endif
