/* SPDX-License-Identifier: Apache-2.0 */
/* The mail server's stand-in: takes mail by SMTP on the loopback and hands it on. */
#ifndef OSIER_DAEMON_REHEARSAL_POST_OFFICE_H
#define OSIER_DAEMON_REHEARSAL_POST_OFFICE_H

#include <uv.h>

#include "daemon/rehearsal/smtp_talk.h"

typedef struct PostOffice PostOffice;

/* Listens on a free port of 127.0.0.1. NULL and *why (g_free) where it cannot. taken is called on
 * the loop. */
PostOffice *post_office_new(uv_loop_t *loop, MailTaken *taken, void *context, char **why);
int post_office_port(const PostOffice *office);

/* Stops listening and drops open connections; freed once the loop has turned. NULL is passed over.
 */
void post_office_close(PostOffice *office);

#endif
