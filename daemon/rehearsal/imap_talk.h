/* SPDX-License-Identifier: Apache-2.0 */
/* The serving side of IMAP (RFC 3501) as a conversation, bytes in and bytes out, without a socket:
 * one mailbox and what osier asks of it. CAPABILITY, LOGIN and AUTHENTICATE PLAIN (any password will
 * do), SELECT, UID SEARCH (UID n:*, SINCE, ALL), UID FETCH n BODY[], NOOP, LOGOUT. */
#ifndef OSIER_DAEMON_REHEARSAL_IMAP_TALK_H
#define OSIER_DAEMON_REHEARSAL_IMAP_TALK_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

/* A mailbox; lives longer than its talks. */
typedef struct {
    GPtrArray *mails;  /* of GBytes, the n-th with UID first_uid + n; NULL where it was deleted */
    guint32 first_uid; /* from 1 */
    guint32 validity;  /* UIDVALIDITY */
    int searches;      /* so far */
    int fetches;
} ImapMailbox;

typedef struct ImapTalk ImapTalk;

ImapTalk *imap_talk_new(ImapMailbox *mailbox);
void imap_talk_free(ImapTalk *talk);

/* What a server says first. Static. */
const char *imap_greeting(void);

/* Hears bytes, in whatever pieces they come; what is answered is appended to out. False where the
 * connection is to be closed once that is written. */
bool imap_talk_hear(ImapTalk *talk, const char *bytes, size_t length, GString *out);

#endif
