/* SPDX-License-Identifier: Apache-2.0 */
/* The store in a PostgreSQL database: a schema for each clinic, one thread and one connection. */
#ifndef OSIER_ADAPTERS_STORE_STORE_POSTGRES_H
#define OSIER_ADAPTERS_STORE_STORE_POSTGRES_H

#include "adapters/store/store_sqlite.h"

/* Where a clinic's store is. */
typedef struct {
    const char *connect;  /* a connection string of libpq, without a password */
    const char *password; /* or NULL */
    const char *schema;   /* a name of a-z, 0-9 and _ */
} PostgresPlace;

/* Opens or makes the store. place is lent for the call. Else as store_sqlite_open; *why begins with the schema. */
OpenResult store_postgres_open(uv_loop_t *loop, const PostgresPlace *place, StoreMode mode,
                               const char *replica, int64_t now_ms, Store **store, char **why);

#endif
