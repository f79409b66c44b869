/* SPDX-License-Identifier: Apache-2.0 */
/* What a call says of a client, read once and checked whole. Store thread. */
#ifndef OSIER_DAEMON_CONTROL_CLIENT_ENTRY_H
#define OSIER_DAEMON_CONTROL_CLIENT_ENTRY_H

#include "daemon/control/call.h"

typedef struct {
    json_t *fields; /* for client.set: those that the call gives */
    char *channel;  /* for which consent is given, and how; NULL: no consent is spoken of */
    char *how;
    char *doubt; /* one line on what a person should know of that consent, or NULL */
} ClientEntry;

/* Both are false after answering, with nothing to clear. The second is of a client who is new: with name and address, and the
 * clinic's own zone and language where the call gives none. */
bool client_entry_read(Job *job, Call *call, ClientEntry *entry);
bool client_entry_read_new(Job *job, Call *call, ClientEntry *entry);
void client_entry_clear(ClientEntry *entry);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ClientEntry, client_entry_clear)

#endif
