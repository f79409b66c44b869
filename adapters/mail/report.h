/* SPDX-License-Identifier: Apache-2.0 */
/* Mail that no person wrote: automatic answers (RFC 3834) and reports of mail servers (RFC 3464).
 * Private to this folder. */
#ifndef OSIER_ADAPTERS_MAIL_REPORT_H
#define OSIER_ADAPTERS_MAIL_REPORT_H

#include <gmime/gmime.h>
#include <stdbool.h>

/* By its headers: Auto-Submitted other than no, Precedence bulk, junk, list or auto_reply, a list's
 * mark, an autoresponder's, an empty return path, or a sender that no person writes from. */
bool mail_is_automatic(GMimeMessage *mail);

/* A delivery report, or a mail with the marks of one. */
bool mail_is_report(GMimeMessage *mail);

/* Adds a Receipt for what the report says of a message of ours, if it says anything final. The id of that message (g_free),
 * or NULL. */
char *mail_read_report(GMimeMessage *mail, GPtrArray *receipts);

/* The id of the message of ours that a Message-ID names: 32 hex digits before the @, in capitals
 * (g_free); NULL where it names none. */
char *mail_own_id(const char *message_id);

#endif
