/* SPDX-License-Identifier: Apache-2.0 */
/* The weekly check-in: one letter of the sheet that the client has at home. Asked by the planner, answered by message or
 * on the telephone. Store thread. */
#ifndef OSIER_DAEMON_JOBS_CHECKIN_H
#define OSIER_DAEMON_JOBS_CHECKIN_H

#include "core/talk/reading.h"
#include "daemon/jobs/ready.h"

#define CHECKIN_EVERY_DAYS 7

/* The first day on which the client may be asked. False where the programme asks nothing, or the client is not written
 * to. */
bool checkin_day(Job *job, const Person *person, const Programme *programme, Day *day);

/* Asks, where the client has practised within the week and the gate lets it go now. True where it did. */
bool checkin_ask(Job *job, const Person *person, const Ready *ready);

/* Reads a text that may answer the check-in: the letter is taken out of it and the rest is read as any reply. session: the
 * one that the text would answer, or NULL. A letter that is for the clinician is a nerve sign, unless the rest holds a
 * graver one. *unsure (static text, or NULL): why a person must say what the letter means; no letter is taken then. */
Reading *checkin_read(Job *job, const Person *person, const char *text, const char *session,
                      int64_t at_ms, const char **unsure);

/* Did the text answer the check-in and say no more? Such an answer is of no session. */
bool checkin_only(const Reading *reading);

/* Records the letter of a reading, where it has one. cause: the reply's id, or the report's. */
void checkin_record(Job *job, const Person *person, const Reading *reading, const char *cause,
                    const char *by);

#endif
