/* SPDX-License-Identifier: Apache-2.0 */
/* The store on SQLite: one thread, one exclusive connection, write-ahead log, a sync for each commit. */
#ifndef OSIER_ADAPTERS_STORE_STORE_SQLITE_H
#define OSIER_ADAPTERS_STORE_STORE_SQLITE_H

#include <uv.h>

#include "adapters/store/store.h"

typedef enum { STORE_LIVE, STORE_REHEARSAL } StoreMode;

typedef enum {
    OPEN_OK,
    OPEN_IN_USE,     /* another process holds it */
    OPEN_OTHER_MODE, /* live asked for, rehearsal found, or the other way */
    OPEN_NO_STORE,   /* not a store of osier, or damaged */
    OPEN_NEWER,      /* written by a newer osier */
    OPEN_CANNOT      /* the file or folder cannot be made, opened or synced */
} OpenResult;

/* Opens or makes the store. replica: 16 hex digits for a new store (drawn by the caller's random port). *why: one line
 * (g_free) where the result is not OPEN_OK. now_ms stamps a new store's first event (replica.joined), and is where the clock
 * of one that is there starts. Migrates forward. */
OpenResult store_sqlite_open(uv_loop_t *loop, const char *path, StoreMode mode, const char *replica,
                             int64_t now_ms, Store **store, char **why);

/* `osier check`: verifies chain, database and, with rebuild, that refolding gives the same tables. Lines of finding are
 * added to findings (of char *); none means sound. rebuild also writes the refolded tables. */
OpenResult store_sqlite_check(const char *path, bool rebuild, GPtrArray *findings, int64_t *events,
                              char **why);

/* `osier restore`: a copy goes on as another replica (16 hex digits) from now_ms, of whatever mode it is; a
 * rehearsal's, whose made-up clock stands elsewhere, from its last event. */
OpenResult store_sqlite_renew(const char *path, const char *replica, int64_t now_ms, char **why);

/* An ordered dump of the derived tables (g_free), to compare replicas and rebuilds. Inside a job. */
char *tx_dump(Tx *tx);

#endif
