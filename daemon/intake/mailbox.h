/* SPDX-License-Identifier: Apache-2.0 */
/* Reads one gateway's mailbox, mail by mail, from a stored cursor: what a client wrote goes the way
 * of all replies, what a mail server reports becomes the fate of the message that it names. */
#ifndef OSIER_DAEMON_INTAKE_MAILBOX_H
#define OSIER_DAEMON_INTAKE_MAILBOX_H

#include "adapters/net/net.h"
#include "daemon/intake/rounds.h"

typedef struct Mailbox Mailbox;

/* Desk and net stay the caller's. */
Mailbox *mailbox_new(Desk *desk, Net *net, const char *gateway);
void mailbox_free(Mailbox *mailbox);

/* When it asks; the mailbox's own. */
Rounds *mailbox_rounds(Mailbox *mailbox);

#endif
