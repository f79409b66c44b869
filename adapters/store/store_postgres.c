/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/store_postgres.h"

#include "adapters/store/copy_out.h"
#include "adapters/store/open.h"
#include "adapters/store/store_thread.h"

OpenResult store_postgres_open(uv_loop_t *loop, const PostgresPlace *place, StoreMode mode,
                               const char *replica, int64_t now_ms, Store **store, char **why)
{
    static const Keeper KEEPER = {.copy = copy_out_begin, .close = engine_free};
    OpenRequest request = {.place = place,
                           .make = true,
                           .counted = true,
                           .mode = mode,
                           .replica = replica,
                           .now_ms = now_ms};
    Tx *tx = NULL;
    OpenResult result = open_schema(&request, &tx, why);

    *store = result == OPEN_OK ? store_thread_new(loop, tx, &KEEPER) : NULL;
    return result;
}
