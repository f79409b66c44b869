/* SPDX-License-Identifier: Apache-2.0 */
/* A new replica takes a snapshot from a peer, see lend.h: asks for one, fetches it piece by piece into a file beside the store, looks it
 * over in a worker, and takes it in one job. What was fetched stays with the lane while the line is cut. */
#ifndef OSIER_DAEMON_SYNC_BORROW_H
#define OSIER_DAEMON_SYNC_BORROW_H

#include "daemon/sync/sync_inside.h"

typedef enum {
    BORROW_TAKEN,
    BORROW_NONE,    /* there is none to be had now: entries are taken in one by one */
    BORROW_REFUSED, /* the same, and why */
    BORROW_CUT      /* the line was cut, and why: the next visit goes on */
} BorrowResult;

/* why: one line, lent, where the result says so. */
typedef void BorrowEnd(BorrowResult result, const char *why, void *context);

/* In a job of a visit: is it worth asking that peer for one, of whose vector this replica lacks so much? */
bool borrow_may(Job *job, const Lane *lane, const GArray *theirs);

/* url: "https://HOST:PORT/snapshot". end is called once, not from within. */
void borrow_begin(Lane *lane, const char *url, const char *pin, BorrowEnd *end, void *context);

/* Words were erased: what was fetched so far is not taken. */
void borrow_drop(Borrow *borrow);

/* What was fetched before the line was cut goes after an hour. */
void borrow_age(Lane *lane);

/* A worker reads it. */
bool borrow_works(const Borrow *borrow);

/* {"from", "does", "bytes", "of"} (new reference). */
json_t *borrow_json(const Borrow *borrow);
void borrow_free(Borrow *borrow);

#endif
