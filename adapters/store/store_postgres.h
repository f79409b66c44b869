/* SPDX-License-Identifier: Apache-2.0 */
/* The store in a PostgreSQL database: a schema for each clinic, one thread and one connection. */
#ifndef OSIER_ADAPTERS_STORE_STORE_POSTGRES_H
#define OSIER_ADAPTERS_STORE_STORE_POSTGRES_H

#include "adapters/store/place.h"

/* Opens or makes the store. place is lent for the call. Else as store_sqlite_open; *why begins with the schema. */
OpenResult store_postgres_open(uv_loop_t *loop, const PostgresPlace *place, StoreMode mode,
                               const char *replica, int64_t now_ms, Store **store, char **why);

#endif
