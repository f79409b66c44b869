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

/* Drops old looks at the record, which each replica has of its own. known_ms: an instant at which the clock was right. Where it
 * lies more than a month back nothing is dropped: a clock that is years ahead would take what nothing brings back. */
void keep_looks(Job *job, int64_t known_ms);

/* Takes old words, and drops old looks, where the clock has come to due_ms within the month. A reply that waits for a person,
 * or that an alert not yet closed is about, is kept. Then sets the next time. */
void keep_meet(Job *job, int64_t due_ms);

#endif
