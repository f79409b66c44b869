/* SPDX-License-Identifier: Apache-2.0 */
/* What comes up in the course of a plan beside its sessions: the weekly check-in, a long break that the client is asked
 * about, the review. One row of the due index for each client, at a quiet hour of the client's day. Store thread. */
#ifndef OSIER_DAEMON_JOBS_COURSE_H
#define OSIER_DAEMON_JOBS_COURSE_H

#include "daemon/desk/person.h"

/* Sets the client's next day of that kind into the due index, or drops it where nothing is to come. */
void course_next(Job *job, const Person *person);

/* The same, where the due index has none yet. */
void course_ensure(Job *job, const Person *person);

/* That day has come. */
void course_meet(Job *job, const char *client);

#endif
