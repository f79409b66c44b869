/* SPDX-License-Identifier: Apache-2.0 */
/* A snapshot: what one replica shares, of one instant, events and the tables made from them, so that a new replica need not fold a
 * million events one by one. Nothing that is local is in it: the tables that travel are those that core/ledger/table.c declares as
 * derived.
 *
 * The one that has much makes one out of a copy of its store (snapshot_make); the new one looks it over before anything of it
 * counts (snapshot_look_over), and takes it in one transaction (snapshot_take). That each chain holds is seen before; that the
 * tables are what the events give is the maker's word until somebody folds them anew, as check.h does. */
#ifndef OSIER_ADAPTERS_STORE_SNAPSHOT_H
#define OSIER_ADAPTERS_STORE_SNAPSHOT_H

#include "adapters/store/store_sqlite.h"
#include "core/ledger/hash.h"

/* What was put into a file. */
typedef struct {
    int64_t events;
    int64_t bytes;
    uint8_t digest[HASH_BYTES]; /* SHA-256 of the file */
} SnapshotMade;

/* Makes a snapshot out of a copy of a store (store.h: copy) that nobody else uses; the file, mode 0600, must not be there yet. NULL
 * where it is whole, else one line on why not (g_free), and the file is gone. For a worker. */
char *snapshot_make(const char *copy, const char *path, SnapshotMade *made);

/* What travels, as a digest: a snapshot is of use to who has the same. */
void snapshot_shape(uint8_t digest[HASH_BYTES]);

/* What was seen in a file: to be freed with snapshot_look_free. */
typedef struct {
    GArray *vector; /* of VectorEntry: what is in it */
    int64_t events;
    bool crossed; /* see anew.h */
} SnapshotLook;

/* Reads all of a snapshot that came from elsewhere: is it whole, does every chain hold from its first event on, and may every event be
 * as it is? NULL and *why (static text) where one thing is not so. now_ms: no stamp may count as more than STAMP_AHEAD_MS after it. For a
 * worker. */
SnapshotLook *snapshot_look_over(const char *path, int64_t now_ms, const char **why);
void snapshot_look_free(SnapshotLook *look);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(SnapshotLook, snapshot_look_free)

/* Takes in a snapshot that was looked over, in place of what is here; what is here and not in it is put on top. Inside a job, on a
 * store in a file. heard: told of each event in it by which somebody was erased or two ids became one client's, once all is
 * there; the event is lent. NULL; or why nothing may come of it (static text): then the job must be undone. Of a store that is
 * lost meanwhile (tx_is_lost) it is NULL too, and nothing is kept. */
typedef void SnapshotHeard(const Event *event, void *context);
const char *snapshot_take(Tx *tx, const char *path, const SnapshotLook *look, SnapshotHeard *heard,
                          void *context);

/* The tables do not hold: all are made anew from the events when the job ends. */
void snapshot_fold_anew(Tx *tx);

#endif
