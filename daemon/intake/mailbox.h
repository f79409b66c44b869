/* SPDX-License-Identifier: Apache-2.0 */
/* Reads one gateway's mailbox, mail by mail, from a stored cursor: what a client wrote goes the way
 * of all replies, what a mail server reports becomes the fate of the message that it names. */
#ifndef OSIER_DAEMON_INTAKE_MAILBOX_H
#define OSIER_DAEMON_INTAKE_MAILBOX_H

#include <uv.h>

#include "adapters/net/net.h"
#include "daemon/intake/rounds.h"

typedef struct Mailbox Mailbox;

/* Desk, net, watch and loop stay the caller's. Mails are read on the loop's workers; loop NULL: on the spot. */
Mailbox *mailbox_new(Desk *desk, Net *net, const IntakeWatch *watch, uv_loop_t *loop,
                     const char *gateway);
void mailbox_free(Mailbox *mailbox);

/* When it asks; the mailbox's own. */
Rounds *mailbox_rounds(Mailbox *mailbox);

#endif
