/* SPDX-License-Identifier: Apache-2.0 */
/* Stores what came in, then has it read: two jobs, so that the raw words are safe before anything
 * is made of them. */
#ifndef OSIER_DAEMON_INTAKE_TAKE_IN_H
#define OSIER_DAEMON_INTAKE_TAKE_IN_H

#include "core/wire/message.h"
#include "daemon/desk/desk.h"

/* Called on the loop after the raw messages are committed (or could not be). fresh: how many were new. */
typedef void TakenIn(StoreStatus status, int fresh, void *context);

/* What is to be stored together. */
typedef struct {
    const char *gateway;
    Channel channel;
    GPtrArray *items; /* of Incoming; taken over */
    /* of Receipt, or NULL; taken over. Where one of them is for a message of ours, the items, which say the same in words,
     * are left out */
    GPtrArray *receipts;
    const char *cursor;    /* the gateway's next cursor, or NULL: as it was */
    const char *cursor_of; /* under which name it is kept; NULL: the gateway's */
} Taking;

void take_in(Desk *desk, const Taking *taking, TakenIn *taken, void *context);

/* Reads what is stored and not yet read, page by page; nothing more where that is under way already. */
void take_in_read(Desk *desk);

#endif
