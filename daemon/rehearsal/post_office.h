/* SPDX-License-Identifier: Apache-2.0 */
/* The mail server's stand-in on the loopback: takes mail by SMTP and hands it on, and lets the
 * clinic's mailbox be read by IMAP. */
#ifndef OSIER_DAEMON_REHEARSAL_POST_OFFICE_H
#define OSIER_DAEMON_REHEARSAL_POST_OFFICE_H

#include <uv.h>

#include "daemon/rehearsal/imap_talk.h"
#include "daemon/rehearsal/smtp_talk.h"

typedef struct PostOffice PostOffice;

/* Listens on free ports of 127.0.0.1. NULL and *why (g_free) where it cannot. taken is called on
 * the loop; the mailbox lives as long as the office. */
PostOffice *post_office_new(uv_loop_t *loop, ImapMailbox *mailbox, MailTaken *taken, void *context,
                            char **why);
int post_office_smtp_port(const PostOffice *office);
int post_office_imap_port(const PostOffice *office);

/* Stops listening and drops open connections; freed once the loop has turned. NULL is passed over.
 */
void post_office_close(PostOffice *office);

#endif
