/* SPDX-License-Identifier: Apache-2.0 */
/* Finds the waiting messages that are one gateway's to take. Arrays hold Row and free them. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_ROUTE_H
#define OSIER_ADAPTERS_STORE_FIND_ROUTE_H

#include "adapters/store/store.h"
#include "core/clinic/route.h"

/* Up to limit waiting messages of a channel whose time has come and that are the route's: rank first, then the oldest
 * due. */
GPtrArray *find_routed(Tx *tx, const char *channel, const Route *route, int64_t now_ms, int limit);

/* The instant at which the next of them may be tried; INT64_MAX: none. */
int64_t find_next_routed(Tx *tx, const char *channel, const Route *route);

/* Clients, in order and after that one ("" at first), at most limit, for whom a message of the channel waits whose time
 * has come and that is the route's (of char *, frees them). */
GPtrArray *find_clients_routed(Tx *tx, const char *channel, const Route *route, int64_t now_ms,
                               const char *after, int limit);

/* The messages of one of those clients. */
GPtrArray *find_routed_of(Tx *tx, const char *channel, const Route *route, int64_t now_ms,
                          const char *client);

/* Waiting messages that are bound to a gateway. */
GPtrArray *find_bound(Tx *tx);

/* What was tried in vain and waits for its next try within such a time is due now: the line is back. The number of
 * messages. */
int outbox_hurry(Tx *tx, int64_t now_ms, int64_t within_ms);

#endif
