/* SPDX-License-Identifier: Apache-2.0 */
/* What a client is told when a clinician has decided something, on whichever replica that was. Each is put into the outbox once,
 * and a day after the decision no more. Store thread. */
#ifndef OSIER_DAEMON_JOBS_TELL_H
#define OSIER_DAEMON_JOBS_TELL_H

#include "daemon/desk/person.h"

/* The first message of all: who writes, how to stop, how to get help. */
void tell_welcome(Job *job, const Person *person);

/* The plan moved from a stage to another, onwards or back; where the days a week follow the stage and are others now, that is told
 * too. at_ms: when that was decided. */
void tell_moved(Job *job, const Person *person, const Stage *from, const Stage *to, bool onwards,
                int64_t at_ms);

/* The plan has ended; person as before that. why: finished, asked, moved or died, of which nothing is told. */
void tell_goodbye(Job *job, const Person *person, const char *why, int64_t at_ms);

#endif
