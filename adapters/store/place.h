/* SPDX-License-Identifier: Apache-2.0 */
/* Where a clinic's store is, of whatever kind, and what is done to one with osierd stopped. */
#ifndef OSIER_ADAPTERS_STORE_PLACE_H
#define OSIER_ADAPTERS_STORE_PLACE_H

#include "adapters/store/store_sqlite.h"

/* A schema on a PostgreSQL server. */
typedef struct {
    const char *connect;  /* a connection string of libpq, without a password */
    const char *password; /* or NULL */
    const char *schema;   /* a name of a-z, 0-9 and _ */
    const char
        *fence_file; /* where the number of the last commit is kept beside the server, or NULL */
} PostgresPlace;

/* The schema where it is not NULL, else the file. */
typedef struct {
    const char *file;
    const PostgresPlace *schema;
} StorePlace;

/* The path or the schema's name: every *why begins with it. Lent. */
const char *store_place_name(const StorePlace *place);

/* store_sqlite_check, wherever the store is. */
OpenResult store_place_check(const StorePlace *place, bool rebuild, GPtrArray *findings,
                             int64_t *events, char **why);

typedef enum {
    MOVE_DONE,
    MOVE_IN_USE,    /* another process holds the one or the other */
    MOVE_NO_SOURCE, /* there is no store to move */
    MOVE_UNSOUND,   /* the store has faults, or a newer osier wrote it */
    MOVE_TAKEN,     /* another store is where it should go */
    MOVE_CANNOT     /* the device, the server or the folder says no */
} MoveResult;

/* Copies a sound store, all of it, between a file and a schema, and sees that both give the same ordered dump (*digest: its
 * SHA-256 in hex, g_free) before the old one is put aside under the name *aside (g_free), by which nothing opens it. A move
 * that was cut short is done again, or ended where the copy is whole. *why: one line (g_free) where the result is not
 * MOVE_DONE. now_ms names what is put aside. */
MoveResult store_place_move(const StorePlace *from, const StorePlace *to, int64_t now_ms,
                            int64_t *events, char **digest, char **aside, char **why);

/* A copy in a file becomes the store of an empty schema; the file stays. */
MoveResult store_place_fill(const char *file, const PostgresPlace *schema, char **why);

#endif
