/* SPDX-License-Identifier: Apache-2.0 */
/* Puts messages into the outbox: worded, sized, once for each purpose. Store thread. */
#ifndef OSIER_DAEMON_JOBS_POST_H
#define OSIER_DAEMON_JOBS_POST_H

#include "core/clinic/gate.h"
#include "daemon/desk/person.h"

/* What is to be said. */
typedef struct {
    MessageKind kind;
    const char *purpose; /* unique text of what it is for: the message's id follows from it, so it
                            is made once */
    const char *text;
    const char *subject; /* mail; NULL: the clinic's name */
    const char *html;    /* mail, or NULL */
    const char *session; /* or NULL */
    const char *alert;   /* or NULL */
    int64_t end_ms;      /* past it, it lapses; 0: never */
    int64_t not_before_ms;
    bool judged;     /* the gate has just let it through: it may be claimed as it is made */
    json_t *reasons; /* lent, or NULL */
} Post;

/* Puts a message to a client by the client's channel; the gate is asked later, by the relay. The
 * message's id (g_free), or NULL where nothing was put: it was made before, or the client has no
 * address (a landline). */
char *post_client(Job *job, const Person *person, const Post *post);

/* The same by a channel of the caller's choice: an answer goes back the way the question came. */
char *post_client_by(Job *job, const Person *person, Channel channel, const char *address,
                     const Post *post);

/* Puts a message to a clinician or the clinic. client: whom it is about, or NULL. */
char *post_staff(Job *job, Channel channel, const char *to, const char *client, const Post *post);

/* Was a message for that purpose ever made? */
bool post_was_made(Job *job, const char *purpose);

/* What is known at the gate for a message of that kind to that person by that channel, now. */
GateCase post_gate(Job *job, const Person *person, Channel channel, MessageKind kind,
                   int64_t end_ms);

#endif
