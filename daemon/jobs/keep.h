/* SPDX-License-Identifier: Apache-2.0 */
/* How long words are kept: where the clinic says so, replies and digests lose theirs after some years, on every replica. What
 * a reply reported, the alerts and their outcomes stay, for they are the record; whoever wants that gone erases the client. Store
 * thread. */
#ifndef OSIER_DAEMON_JOBS_KEEP_H
#define OSIER_DAEMON_JOBS_KEEP_H

#include "daemon/desk/person.h"

/* Sets when old words are looked for next: in the night before the first day of a month, by the clinic's clock. Nothing is
 * set where the clinic keeps them as long as the record. */
void keep_schedule(Job *job);

/* Drops old looks at the record, which each replica has of its own. */
void keep_looks(Job *job);

/* Takes them, and drops old looks. A reply that waits for a person, or that an alert not yet closed is about, is kept. Then sets the next time. */
void keep_meet(Job *job);

#endif
