/* SPDX-License-Identifier: Apache-2.0 */
/* Whom a reply comes from: by its address, and where it is a mail also by the message of ours that
 * it answers; where several share a phone, by the letter that it begins with. Store thread. */
#ifndef OSIER_DAEMON_JOBS_REPLY_SENDER_H
#define OSIER_DAEMON_JOBS_REPLY_SENDER_H

#include "core/wire/message.h"
#include "daemon/desk/person.h"

/* An address as contacts hold it: E.164, or a mail address in lower case (g_free); NULL for NULL. */
char *reply_address(Job *job, const char *from, Channel channel);

typedef struct {
    char *address;      /* that it came from, as contacts hold it, or NULL */
    GPtrArray *clients; /* ids of all who may have written it: one where it is certain */
    bool known;         /* the address is some client's */
    bool shared;        /* of several */
    char *session;      /* of the message that it answers, or NULL */
    char *text; /* behind the letter of one who shares the phone, or NULL: it begins with none */
} ReplySender;

void reply_sender_find(Job *job, const Row *reply, Channel channel, ReplySender *sender);
void reply_sender_clear(ReplySender *sender);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ReplySender, reply_sender_clear)

/* Does a mail that no person wrote concern a client, by its address or by what it answers? */
bool reply_concerns_client(Job *job, const Incoming *incoming);

/* Is the address one of those that osier itself writes to at the clinic: duty list, digest? */
bool reply_is_from_staff(const Clinic *clinic, const char *address, Channel channel);

/* What a mail says, to be stored: its text, under its subject where that is the sender's own and
 * not the one that osier wrote (g_free); NULL where it says nothing. */
char *reply_mail_words(Job *job, const Incoming *incoming);

#endif
