/* SPDX-License-Identifier: Apache-2.0 */
/* The receiving side of SMTP (RFC 5321) as a conversation, bytes in and bytes out, without a
 * socket: EHLO, HELO, AUTH (any password will do), MAIL, RCPT, DATA, RSET, NOOP, VRFY, QUIT. */
#ifndef OSIER_DAEMON_REHEARSAL_SMTP_TALK_H
#define OSIER_DAEMON_REHEARSAL_SMTP_TALK_H

#include <glib.h>
#include <stdbool.h>

typedef struct SmtpTalk SmtpTalk;

/* A whole mail as it was written, dots unstuffed, lines ended by CRLF; to: its recipients (of
 * text). Called before the sender has its answer. Both are lent. */
typedef void MailTaken(const GPtrArray *to, GBytes *mail, void *context);

SmtpTalk *smtp_talk_new(MailTaken *taken, void *context);
void smtp_talk_free(SmtpTalk *talk);

/* What a server says first. Static. */
const char *smtp_greeting(void);

/* Hears bytes, in whatever pieces they come; what is answered is appended to out. False where the
 * connection is to be closed once that is written. */
bool smtp_talk_hear(SmtpTalk *talk, const char *bytes, size_t length, GString *out);

#endif
