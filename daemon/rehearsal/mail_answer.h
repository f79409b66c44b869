/* SPDX-License-Identifier: Apache-2.0 */
/* A mail as a client's mail program writes it: the answer above, what is answered quoted below. */
#ifndef OSIER_DAEMON_REHEARSAL_MAIL_ANSWER_H
#define OSIER_DAEMON_REHEARSAL_MAIL_ANSWER_H

#include <glib.h>
#include <stdint.h>

typedef struct {
    const char *id;   /* stands before the @ of its Message-ID */
    const char *name; /* of whoever writes */
    const char *from; /* their address */
    const char *text;
    int64_t at_ms;
    GTimeZone *zone;  /* the writer's own */
    GBytes *answered; /* the mail that it answers */
} MailAnswer;

/* The whole mail, lines ended by CRLF. mail_start comes first. */
GBytes *mail_answer(const MailAnswer *answer);

#endif
