/* SPDX-License-Identifier: Apache-2.0 */
/* What comes in: stored first, word for word; read in a second job; then acted on. Store thread. */
#ifndef OSIER_DAEMON_JOBS_REPLY_H
#define OSIER_DAEMON_JOBS_REPLY_H

#include "core/talk/reading.h"
#include "core/wire/message.h"
#include "daemon/desk/person.h"

/* --- reply_store.c --- */

/* Stores a message that came in as reply.received, once: a gateway's id seen before, with the same sender and words where it is a
 * text, or a fingerprint seen before adds nothing. A message with neither an id nor a time of the gateway's is taken as new each
 * time: two equal answers must not be one. True where it was new. */
bool reply_store(Job *job, const char *gateway, Channel channel, const Incoming *incoming);

/* --- reply_take.c --- */

/* Reads every reply that is stored and not yet read. The number read; at most limit. */
int reply_read_stored(Job *job, int limit);

/* A reply has waited a day for a person: an alert. */
void reply_waited(Job *job, const char *reply);

/* --- reply_act.c --- */

/* What may go back to whoever wrote. */
typedef enum {
    BACK_ALL,
    BACK_SAFETY, /* a safety text alone */
    BACK_NOTHING
} Back;

/* Acts on a reading as on one that came by message: report, alerts, questions, words back. session
 * may be NULL. */
typedef struct {
    const char *reply;             /* id of the reply, or of the report's words */
    const char *session;           /* or NULL */
    const SessionInstant *instant; /* of a session that no row tells of yet, or NULL */
    Channel channel;               /* the way it came, and the way answers go back */
    const char *from;              /* address it came from, or NULL: the client's own */
    const char *by;                /* "client", or who wrote down a call */
    const char *words;             /* what was said on the telephone, or NULL */
    bool late;                     /* read hours after it was sent */
    bool bare;                     /* the text says one number and no more */
    bool stranger;                 /* it came from an address that is not the client's */
    Back back;
    bool anyones; /* several may have written it, and it is acted on for each */
} ReplyCase;
void reply_act(Job *job, const Person *person, const Reading *reading, const ReplyCase *about);

/* The commands stop, start, help. Says whether the reply is answered by that alone. */
bool reply_command(Job *job, const Person *person, const Reading *reading, const ReplyCase *about);

/* Does the text hold a code, and have too many wrong ones come from that number within the hour? Then nothing is compared. */
bool reply_staff_is_barred(Job *job, const char *number, const char *text);

/* A text from a number on the duty list: takes an alert by the code sent to that number. denies: it says no, or not, somewhere;
 * then nothing is taken, and they are asked for the code alone. */
void reply_from_staff(Job *job, const char *reply, const char *number, const char *text,
                      bool denies);

/* Opts a client out. cause: the reply's id, or NULL where a person did it. */
void reply_stop(Job *job, const Person *person, const char *cause, const char *by);

/* --- reply_bar.c --- */

/* Words of a death, a hospital or an illness, or of somebody else who has the number: nothing is sent until a person settles it. Of
 * a death and of a wrong number a clinician is told within the day. cause: the reply's id, or that of a report; channel: the way
 * it came. */
void reply_bar(Job *job, const Person *person, const Reading *reading, const char *cause,
               Channel channel);

/* What may go back. Beside words of a death or of a wrong number, and until these are settled, nothing: whoever reads it may be
 * somebody else. A sign or pain of the writer's own has its safety text. */
Back reply_back(const Person *person, const Reading *reading);

/* Is it barred by words of a death or of a wrong number that nobody has settled? */
bool reply_is_elsewhere(const Person *person);

/* A wish for the texts to end that stands beside such words, of which a clinician is told anyway. */
void reply_bar_stop(Job *job, const Person *person, const char *cause, const char *by);

/* The words that suspended messages are settled: messages go again, unless something else bars them. Who has a wrong number gets
 * none until it is set anew, or until a person resumes. */
void reply_lift_suspend(Job *job, const Person *person, const char *cause, const char *by);

/* The same for each whom that reply suspended: on a telephone that several have, it was each of them. */
void reply_lift_all(Job *job, const char *reply, const char *by);

/* The client's number or mail address was set anew: what whoever had the old one wrote bars nothing any more. */
void reply_address_set(Job *job, const Person *person, Channel channel, const char *by);

/* The command that is likely to settle what a reading, as reading_json has it, says of a client (g_free), or NULL. */
char *reply_suggests(const char *client, const json_t *reading, Channel channel);

#endif
