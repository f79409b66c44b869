/* SPDX-License-Identifier: Apache-2.0 */
/* What osier asks back, one question at most for a session, and what a reply says in answer. A person
 * decides after that. Store thread. */
#ifndef OSIER_DAEMON_JOBS_REPLY_ASK_H
#define OSIER_DAEMON_JOBS_REPLY_ASK_H

#include "core/watch/matter.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/words.h"

typedef struct {
    MessageKind kind;
    const char *stem; /* of the purpose */
    const char *of;   /* what it is once for */
} Answer;

/* Answers the client the way the reply came, once for each stem and thing. True where it was put. */
bool reply_say(Job *job, const Person *person, const ReplyCase *about, Answer what,
               const Worded *words);

/* Completes a reading that answers a question of osier's: a bare number is the pain that was asked
 * for; "stretch" or "pain" alone gives the bare number before it its place. */
void reply_take_answer(Job *job, const Person *person, Reading *reading, const ReplyCase *about);

/* A high number that counted as pain was the stretch, the client says: told at the alert, which a
 * clinician closes as before; the hold stays. */
void reply_note_stretch(Job *job, const Person *person, const Reading *reading,
                        const ReplyCase *about);

/* Asks back where the reading leaves something open, and nothing was asked about the session yet:
 * how strong the pain is, whether a high number is stretch or pain, whether two numbers were read
 * the right way round, or what was meant. */
void reply_ask(Job *job, const Person *person, const Reading *reading, const ReplyCase *about,
               const Matter *matter);

#endif
