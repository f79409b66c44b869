/* SPDX-License-Identifier: Apache-2.0 */
/* Stores what came in, then has it read: two jobs, so that the raw words are safe before anything
 * is made of them. */
#ifndef OSIER_DAEMON_INTAKE_TAKE_IN_H
#define OSIER_DAEMON_INTAKE_TAKE_IN_H

#include "core/wire/message.h"
#include "daemon/desk/desk.h"

/* Called on the loop after the raw messages are committed (or could not be). fresh: how many were new. */
typedef void TakenIn(StoreStatus status, int fresh, void *context);

/* Stores items (of Incoming; taken over) of a gateway, with the gateway's next cursor (NULL: as it
 * was). */
void take_in(Desk *desk, const char *gateway, Channel channel, GPtrArray *items, const char *cursor,
             TakenIn *taken, void *context);

/* Reads what is stored and not yet read. */
void take_in_read(Desk *desk);

#endif
