/* SPDX-License-Identifier: Apache-2.0 */
/* Debian's dovecot on a mailbox of its own, by IMAP on a port of the loopback: with settings, folders and processes that
 * nothing else on the machine sees. */
#ifndef OSIER_TESTS_SUPPORT_DOVECOT_H
#define OSIER_TESTS_SUPPORT_DOVECOT_H

#include <glib.h>
#include <stdbool.h>

typedef struct Dovecot Dovecot;

/* Whether the package is there. */
bool dovecot_installed(void);

/* Not started yet; the mailbox is empty. Any user may log in with that password. */
Dovecot *dovecot_new(int port, const char *password);
void dovecot_free(Dovecot *dovecot);

/* The folder that its mails lie in, a Maildir of the user nobody where root runs the tests; its own. */
const char *dovecot_maildir(const Dovecot *dovecot);

/* Starts it and waits until it greets; stops it and waits until it has ended. */
void dovecot_start(Dovecot *dovecot);
void dovecot_stop(Dovecot *dovecot);

/* Delivers a mail as a mail server does, whether it runs or not. */
void dovecot_deliver(Dovecot *dovecot, const char *mail);

/* Forgets the mails' numbers, as a mailbox that was restored does: another UIDVALIDITY. Stopped only. */
void dovecot_renumber(Dovecot *dovecot);

/* Mails that somebody has seen: what is fetched by BODY[] is marked (RFC 3501 6.4.5). */
int dovecot_seen(Dovecot *dovecot);

#endif
