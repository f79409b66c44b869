/* SPDX-License-Identifier: Apache-2.0 */
/* The relay: claims messages whose time has come, in bounded batches, hands them to a gateway and
 * records what became of them. A row is written before each call and after it. */
#ifndef OSIER_DAEMON_RELAY_RELAY_H
#define OSIER_DAEMON_RELAY_RELAY_H

#include <uv.h>

#include "adapters/net/net.h"
#include "daemon/jobs/claim.h"

typedef struct Relay Relay;

typedef struct {
    const char *folder;    /* the clinic's, in which programs run */
    const char *spool_dir; /* where a spool gateway writes */
    bool one_at_a_time;    /* for a stepped clock, so that the same seed gives the same order */
    uv_loop_t *loop;       /* NULL: no program is started */
} RelayPlace;

/* The ports stay the caller's. */
Relay *relay_new(Desk *desk, Net *net, const RelayPlace *place);

/* back is called on the loop when the clinic's line is up again. */
typedef void RelayBack(void *context);
void relay_watch(Relay *relay, RelayBack *back, void *context);

/* Frees it; nothing may be in flight (see relay_busy). */
void relay_free(Relay *relay);

/* Messages that were being written at the last stop find their fate; then sending begins. */
void relay_start(Relay *relay);

/* There is room on the device again: what could not be begun or recorded is tried again. */
void relay_again(Relay *relay);

/* The next message of each channel may be tried at that instant (INT64_MAX: none waits). posted: there may be more than
 * before. */
void relay_next(Relay *relay, int64_t sms_ms, int64_t email_ms, bool posted);

/* Something was written about clients (of ids) that may bar a message to them: what has passed the gate and not left yet must
 * pass it again. */
void relay_recall(Relay *relay, const GPtrArray *clients);

/* Leave to claim up to so many texts while they are made, for the job to be submitted next; NULL where there is none to give.
 * Whoever was given it hands it back when the job is done: kept says whether what it wrote is. */
Grant *relay_grant(Relay *relay, int most);
void relay_granted(Relay *relay, Grant *grant, bool kept);

/* Takes in new settings: gateways keep their circuits by name. */
void relay_reload(Relay *relay);

/* A gateway's host was not reached, or was, by somebody else's exchange: a poll's. */
void relay_note(Relay *relay, bool unreachable);

/* Stops claiming; what is in flight ends by itself. */
void relay_stop(Relay *relay);
int relay_busy(const Relay *relay);

/* One object for each gateway: name, kind, up (it is well and can be reached), circuit (closed, open, trying), in_flight,
 * failures, sends, problem, and program where it is one (new reference). */
json_t *relay_json(const Relay *relay);

/* Why a message to that address waits although its time has come: no gateway that takes it is up (g_free); NULL where one is. */
char *relay_why(Relay *relay, Channel channel, const char *to);

/* Is the clinic's line down? And: has it been told of this gateway that it is sick, and is it still? */
bool relay_is_cut_off(const Relay *relay);
bool relay_blames(Relay *relay, const char *gateway);

/* The clinic's line: {"down": bool, "since": instant or null} (new reference). */
json_t *relay_line_json(const Relay *relay);

#endif
