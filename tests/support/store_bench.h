/* SPDX-License-Identifier: Apache-2.0 */
/* One store of any sort for a test: a real one in a folder or schema of its own, or their twin. */
#ifndef OSIER_TESTS_SUPPORT_STORE_BENCH_H
#define OSIER_TESTS_SUPPORT_STORE_BENCH_H

#include <uv.h>

#include "adapters/store/store_memory.h"
#include "adapters/store/store_sqlite.h"

#define BENCH_REPLICA "00000000000000aa"
#define BENCH_MORNING INT64_C(1772438400000) /* 2026-03-02 08:00 UTC */

typedef enum { BENCH_MEMORY, BENCH_SQLITE, BENCH_POSTGRES } BenchSort;

typedef struct {
    BenchSort sort;
    Store *store;
    uv_loop_t loop;
    char *folder;
    char *path;
    char *schema; /* of a store on PostgreSQL */
} Bench;

Bench *bench_open(BenchSort sort);
void bench_close(Bench *bench);

/* A real store stays; opening again finds it. */
void bench_shut(Bench *bench);
void bench_reopen(Bench *bench);

/* What is found wrong in one on SQLite that is shut: texts, none where it is sound. */
GPtrArray *bench_check(const Bench *bench);

/* Submits at BENCH_MORNING. */
void bench_submit(Bench *bench, StoreJob *job, StoreDone *done, void *context);

/* Runs until nothing is pending. */
void bench_run(Bench *bench);

/* Submits, runs, and returns the status. */
StoreStatus bench_do(Bench *bench, StoreJob *job, void *context);

/* Jobs. One appends a digest.sent for the week given as text; one counts events into an int, and
 * checks that this replica's chain has no gap and holds. */
bool bench_append(Tx *tx, void *week);
bool bench_count(Tx *tx, void *count);

/* A new folder under the build's temporary place, and its removal. */
char *bench_folder(void);
void bench_remove(const char *folder);

#endif
