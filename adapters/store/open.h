/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a store's file: what is refused, how the connection is set up, and the syncs that SQLite leaves out. */
#ifndef OSIER_ADAPTERS_STORE_OPEN_H
#define OSIER_ADAPTERS_STORE_OPEN_H

#include "adapters/store/engine.h"
#include "adapters/store/place.h"

typedef struct {
    const char *path;           /* of a file; or */
    const PostgresPlace *place; /* a schema, where it is not NULL */
    bool make;                  /* make a store where there is none */
    /* schemas only: make room for a store, not the store: *tx has nothing in it. One that is there is opened */
    bool bare;
    bool counted;  /* schemas only: commits are counted, see postgres_fence */
    bool checking; /* any mode, and a chain that does not hold is no reason to refuse */
    StoreMode mode;
    const char *replica; /* of a store that is made */
    int64_t now_ms;
    bool damaged; /* out: it is a store, but cannot be read */
    bool empty;   /* out: nothing was there */
} OpenRequest;

/* Where a place is: its file or its schema. */
OpenRequest open_request(const StorePlace *place);

/* Opens what the request names. On OPEN_OK *tx is a loaded store of this version, exclusively held. Else *why is one line that
 * begins with the path or the schema. To be ended by open_end. */
OpenResult open_store(OpenRequest *request, Tx **tx, char **why);
void open_end(const OpenRequest *request, Tx *tx);

/* The same for files alone, and for schemas alone. */
OpenResult open_schema(OpenRequest *request, Tx **tx, char **why);
OpenResult open_store_file(OpenRequest *request, Tx **tx, char **why);

/* Copies the write-ahead log into the database, which SQLite would do by itself but without telling of a failed sync. */
bool open_checkpoint(Tx *tx, int how);

/* Ends the connection; a failed store keeps its log as it is. */
void open_close(Tx *tx);

#endif
