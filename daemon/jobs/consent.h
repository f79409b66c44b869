/* SPDX-License-Identifier: Apache-2.0 */
/* Consent holds while something is heard of a client. After a long silence nobody knows that whoever has the telephone still wants
 * the texts: they end until a person has asked. Store thread. */
#ifndef OSIER_DAEMON_JOBS_CONSENT_H
#define OSIER_DAEMON_JOBS_CONSENT_H

#include "daemon/desk/person.h"

/* The day on which the consent of a client who is written to has lasted through silence for long enough. False where none comes. */
bool consent_day(Job *job, const Person *person, Day *day);

/* Is the client suspended for that silence, and has nothing been heard since? Whoever lifts it then would have it back by tomorrow. */
bool consent_is_out(Job *job, const Person *person);

/* On that day or later: suspends messages, and calls somebody within the clinic's hours to ask for consent anew. */
void consent_meet(Job *job, const Person *person, Day today);

#endif
