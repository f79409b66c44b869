/* SPDX-License-Identifier: Apache-2.0 */
/* The store port on a thread of its own, whatever the database. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_STORE_THREAD_H
#define OSIER_ADAPTERS_STORE_STORE_THREAD_H

#include <uv.h>

#include "adapters/store/copy.h"
#include "adapters/store/engine.h"

/* What a kind of database needs beside jobs. All run on the store thread, except close, which runs after its end. */
typedef struct {
    void (*clean)(
        Tx *tx); /* words were taken out and the commit is done: no log keeps them. May be NULL */
    void (*after)(Tx *tx);                   /* a batch is done and handed back. May be NULL */
    Copy *(*copy)(Tx *tx, const char *path); /* see copy_begin */
    void (*close)(Tx *tx);                   /* frees tx */
} Keeper;

/* Takes over tx, which is loaded. */
Store *store_thread_new(uv_loop_t *loop, Tx *tx, const Keeper *keeper);

#endif
