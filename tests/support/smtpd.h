/* SPDX-License-Identifier: Apache-2.0 */
/* Debian's OpenSMTPD for clinic.example, on ports of the loopback. Its program has its queue, its socket and its users' names
 * built in, and wants root: so it runs in a mount namespace of its own, where /var/spool and /run are empty and its own, and
 * nothing else on the machine sees it. Mail is for three:
 *   sessions@clinic.example  into a mailbox that the caller names
 *   ada@client.example, desk@clinic.example  into mailboxes of the server's own
 *   full@clinic.example  is full: try again later (451)
 * Anybody else of these domains is refused at once (550). What is for far.example is taken, and handed to a second server (itself,
 * on another port), that knows ben@far.example alone, so that for others a report comes back. */
#ifndef OSIER_TESTS_SUPPORT_SMTPD_H
#define OSIER_TESTS_SUPPORT_SMTPD_H

#include <glib.h>
#include <stdbool.h>

typedef struct Smtpd Smtpd;

/* Whether the package is there, and this process may run it. */
bool smtpd_installed(void);

/* Not started yet. sessions: a Maildir, of the user nobody. */
Smtpd *smtpd_new(int port, int far_port, const char *sessions);
void smtpd_free(Smtpd *smtpd);

/* Starts it and waits until it greets; stops it and waits until it has ended. What it has taken and not delivered is gone
 * then. */
void smtpd_start(Smtpd *smtpd);
void smtpd_stop(Smtpd *smtpd);

/* Hands it a mail (lines end in CRLF), as a mail program does. The server's answer: 250 where it took it. */
long smtpd_send(Smtpd *smtpd, const char *from, const char *to, const char *mail);

/* Waits until that many mails lie in a mailbox ("ada", "desk", "ben" or "sessions"), or a minute; how many do. */
int smtpd_wait(Smtpd *smtpd, const char *whose, int mails);

/* A mail of it that holds the words (g_bytes_unref), or NULL. */
GBytes *smtpd_mail(Smtpd *smtpd, const char *whose, const char *holds);

#endif
