/* SPDX-License-Identifier: Apache-2.0 */
/* Reads a mail that came in: who wrote, what they wrote, what it answers, and whether it is a
 * person's mail, a machine's answer or a mail server's report. No I/O; mail_start comes first. */
#ifndef OSIER_ADAPTERS_MAIL_READ_H
#define OSIER_ADAPTERS_MAIL_READ_H

#include "core/wire/message.h"

typedef struct {
    Incoming *incoming;  /* never NULL; its problem says why a person must look, where one must */
    GPtrArray *receipts; /* of Receipt, by the id of the message: what a mail server reports (RFC
                            3464). Never NULL */
    bool report;         /* a mail server's report, whether it could be understood or not */
} MailIn;

/* Reads the bytes of one mail, whatever they are. whole: false where they are only its beginning.
 *
 * The text keeps every word that the sender may have written: what is certainly quoted gets "> "
 * before its lines, and is left to the language packs to cut; nothing is dropped but markup and
 * what an alternative part says once more. ref is the id of the message of ours that In-Reply-To or
 * References names; id is the Message-ID with a hash of sender, date and text behind it, for some
 * programs use one Message-ID twice; where there is none, a hash of the bytes. */
MailIn *mail_read(GBytes *bytes, bool whole);

void mail_in_free(MailIn *in);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(MailIn, mail_in_free)

#endif
