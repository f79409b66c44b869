/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/store_sqlite.h"

#include "adapters/store/open.h"
#include "adapters/store/sqlite.h"
#include "adapters/store/store_thread.h"

/* About 10 MB of log, then it is copied into the database: each page once, however often it was written. */
#define CHECKPOINT_FRAMES 2500

static void clean(Tx *tx)
{
    open_checkpoint(tx, SQLITE_CHECKPOINT_TRUNCATE);
}

static void after(Tx *tx)
{
    if (sqlite_wal_frames(tx->driver) >= CHECKPOINT_FRAMES)
        open_checkpoint(tx, SQLITE_CHECKPOINT_PASSIVE);
}

static Copy *copy(Tx *tx, const char *path)
{
    return copy_begin(sqlite_of(tx->driver), path);
}

OpenResult store_sqlite_open(uv_loop_t *loop, const char *path, StoreMode mode, const char *replica,
                             int64_t now_ms, Store **store, char **why)
{
    static const Keeper KEEPER = {
        .clean = clean, .after = after, .copy = copy, .close = open_close};
    OpenRequest request = {
        .path = path, .make = true, .mode = mode, .replica = replica, .now_ms = now_ms};
    Tx *tx = NULL;
    OpenResult result = open_store_file(&request, &tx, why);

    *store = result == OPEN_OK ? store_thread_new(loop, tx, &KEEPER) : NULL;
    return result;
}
