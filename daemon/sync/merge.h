/* SPDX-License-Identifier: Apache-2.0 */
/* Taking in what another replica has, and giving what it lacks. Store thread. */
#ifndef OSIER_DAEMON_SYNC_MERGE_H
#define OSIER_DAEMON_SYNC_MERGE_H

#include "adapters/peer/parcel.h"
#include "daemon/desk/desk.h"

/* A parcel of this replica: who it is, what it holds. The caller's to parcel_free. */
Parcel *merge_parcel(Job *job);

/* Takes in a parcel's events. Where this replica sends, it heeds them; where it sends no more because of them, what waited here
 * lapses. Gives NULL, or the id of a replica whose chain there is another than here (g_free): of that one nothing is taken.
 * It is this replica's own id where the store turned out to be a copy: see merge_rename. */
char *merge_take(Job *job, const Parcel *parcel);

/* What people are told of a chain that is another here than at the peer, which wrote it itself or has it from elsewhere
 * (g_free). What others wrote is exchanged all the same. */
char *merge_fork(const char *replica, const char *peer);

/* Puts into a parcel what a replica with that vector lacks, as far as it fits; sets more. Nothing of a chain that is another
 * there. limit: events at most; twice as many where very much is lacked. */
void merge_give(Job *job, const GArray *vector, Parcel *into, int limit);

/* Marks along a chain here, evenly from one number to another, both among them where they are here: so that the other side
 * finds how far two chains are the same. */
void merge_mark(Job *job, const char *replica, int64_t from, int64_t to, GArray *marks);

/* How far this replica's own chain agrees with marks: the greatest number that does, and the smallest that does not (0: none). */
void merge_compare(Job *job, const GArray *marks, int64_t *same, int64_t *other);

/* Goes on under a new id: what was written here after the number shared is written anew under it. Says so on the record. */
void merge_rename(Job *job, int64_t shared);

#endif
