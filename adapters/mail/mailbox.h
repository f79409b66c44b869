/* SPDX-License-Identifier: Apache-2.0 */
/* Asks an IMAP mailbox what has come (RFC 3501), with the two requests that libcurl can be trusted
 * with: UID SEARCH, and the fetch of one mail by its UID. No I/O.
 *
 * What has been seen is kept in a cursor and not in the mailbox, where a person may mark what they
 * like. A UID is good for one UIDVALIDITY; where that is another than the cursor's, or there is no
 * cursor yet, the mailbox is asked for what came since some days before, and what comes again is
 * known by its id. */
#ifndef OSIER_ADAPTERS_MAIL_MAILBOX_H
#define OSIER_ADAPTERS_MAIL_MAILBOX_H

#include "core/clinic/clinic.h"
#include "core/wire/exchange.h"

/* Bytes of a mail that are fetched; of a larger one this much of its beginning. */
#define MAILBOX_MAIL_MAX ((size_t)1024 * 1024)

typedef struct {
    guint32 validity; /* 0: nothing is known of the mailbox yet */
    guint32 uid;      /* of the last mail seen; 0: it is asked by date */
    int64_t since_ms; /* when that was */
} MailCursor;

/* "7:1234:1774857600000", in text for the store (g_free). Anything else reads as a cursor that knows nothing, with
 * since_ms as given. */
char *mail_cursor_text(const MailCursor *cursor);
MailCursor mail_cursor_read(const char *text, int64_t since_ms);

/* The search for what is behind the cursor. password: the secret's value or NULL. */
WireRequest *mailbox_search(const Gateway *gateway, const MailCursor *cursor, const char *password);

/* Reads the answer: UIDs behind the cursor, ascending, each once (GArray of guint32; free with g_array_unref); moves the
 * cursor to the mailbox's UIDVALIDITY, and over an empty answer to a search by date. *again: the cursor was for another
 * mailbox, and the search must be made anew. NULL and *why (g_free) where there is no answer to be trusted. */
GArray *mailbox_found(const WireResponse *response, MailCursor *cursor, bool *again, char **why);

/* The fetch of one mail of the cursor's mailbox; it marks the mail as seen there. */
WireRequest *mailbox_fetch(const Gateway *gateway, const MailCursor *cursor, guint32 uid,
                           const char *password);

typedef enum {
    FETCHED_WHOLE,
    FETCHED_BEGINNING, /* it is larger than MAILBOX_MAIL_MAX */
    FETCHED_GONE,      /* somebody has deleted it since */
    FETCHED_NOT        /* try again; *why (g_free) says what went wrong */
} Fetched;
Fetched mailbox_fetched(const WireResponse *response, char **why);

#endif
