/* SPDX-License-Identifier: Apache-2.0 */
/* A snapshot for a new replica: made when one asks, given piece by piece, and gone once it was taken, nobody asked for it for an hour, or
 * words were erased. POST /snapshot with JSON:
 *
 *   {"shape": HEX}            may I have one?  200 {"id", "bytes", "digest", "events"}; 409: none is to be had, take the entries
 *   {"id": ID, "from": N}     the piece that begins there, at most SNAPSHOT_PIECE bytes. 410: it is gone, ask for another
 *   {"id": ID, "end": true}   it was taken, or is not wanted any more
 *
 * Who has no key that this replica was paired with learns nothing, as everywhere. */
#ifndef OSIER_DAEMON_SYNC_LEND_H
#define OSIER_DAEMON_SYNC_LEND_H

#include "core/ledger/hash.h"
#include "daemon/sync/sync_inside.h"

/* A smaller ledger is taken in as fast as one is made. */
#define SNAPSHOT_LEAST 20000
#define SNAPSHOT_PIECE (1024 * 1024)
#define SNAPSHOT_QUESTION_MAX 1024

Lend *lend_new(Sync *sync);
void lend_answer(Lend *lend, ServeRequest *request);
/* Words were erased: the one that is there holds them. */
void lend_drop(Lend *lend);
/* Whoever waits is turned away. */
void lend_stop(Lend *lend);
bool lend_is_over(const Lend *lend);
void lend_free(Lend *lend);

/* In a job: is this a store that can give a snapshot, or take one? */
bool lend_can(Job *job);
/* The shape of what travels, in hex. */
#define SHAPE_HEX (2 * HASH_BYTES + 1)
void lend_hex(const uint8_t digest[HASH_BYTES], char hex[SHAPE_HEX]);

#endif
