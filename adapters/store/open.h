/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a store's file: what is refused, how the connection is set up, and the syncs that SQLite leaves out. */
#ifndef OSIER_ADAPTERS_STORE_OPEN_H
#define OSIER_ADAPTERS_STORE_OPEN_H

#include "adapters/store/engine.h"
#include "adapters/store/store_sqlite.h"

typedef struct {
    const char *path;
    bool make;     /* make a store where there is none */
    bool checking; /* any mode, and a chain that does not hold is no reason to refuse */
    StoreMode mode;
    const char *replica; /* of a store that is made */
    int64_t now_ms;
    bool damaged; /* out: it is a store, but cannot be read */
} OpenRequest;

/* On OPEN_OK *tx is a loaded store of this version, exclusively held. Else *why is one line that begins with the path. */
OpenResult open_store_file(OpenRequest *request, Tx **tx, char **why);

/* Copies the write-ahead log into the database, which SQLite would do by itself but without telling of a failed sync. */
bool open_checkpoint(Tx *tx, int how);

/* Ends the connection; a failed store keeps its log as it is. */
void open_close(Tx *tx);

#endif
