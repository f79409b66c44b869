/* SPDX-License-Identifier: Apache-2.0 */
/* Is the clinic's line up? One of several gateways that cannot be reached may be at fault itself; where no gateway's host can
 * be, the line is down, and so it is taken to be where there is but one, for the same must be done: wait, and knock. Then
 * nothing is tried with messages: a knock now and then, at every host in turn, tells when it is back; every few seconds while
 * an alert or a safety text waits.
 *
 *     up --a host is not reached, and a knock finds none of the hosts--> down
 *     down --one host is reached--> up
 */
#ifndef OSIER_DAEMON_RELAY_REACH_H
#define OSIER_DAEMON_RELAY_REACH_H

#include "adapters/net/net.h"
#include "daemon/desk/desk.h"

typedef struct Reach Reach;

/* turned is called on the loop each time that the line has gone down or come back, since_ms being when it went down. */
typedef void ReachTurned(bool down, int64_t since_ms, void *context);

/* Called on the loop when a host was not reached, and another one was: it is not the line. */
typedef void ReachCleared(void *context);

Reach *reach_new(Desk *desk, Net *net, ReachTurned *turned, ReachCleared *cleared, void *context);

/* No knock may be under way: see net's in_flight. */
void reach_free(Reach *reach);

/* An exchange with a gateway's host has ended: it was not reached, or it answered. One that was cut, or in which nothing came back
 * on a connection that was kept from before, shows neither. */
void reach_note(Reach *reach, bool unreachable);

/* Something may have come to wait. While the line is down it is looked whether that is an alert or a safety text. */
void reach_look(Reach *reach);

bool reach_is_down(const Reach *reach);

/* Is it just being found out? */
bool reach_is_unclear(const Reach *reach);

/* Knocks no more. */
void reach_stop(Reach *reach);

/* {"down": bool, "since": instant or null} (new reference). */
json_t *reach_json(const Reach *reach);

/* "http://host:port/" of a gateway's address (http, https, smtp, smtps), which a knock can be made at; NULL where it has
 * none (g_free). */
char *reach_host(const char *url);

#endif
