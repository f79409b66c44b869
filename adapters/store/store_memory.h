/* SPDX-License-Identifier: Apache-2.0 */
/* The store's twin: SQLite in memory, on the caller's thread, with crashes and full disks to order. */
#ifndef OSIER_ADAPTERS_STORE_STORE_MEMORY_H
#define OSIER_ADAPTERS_STORE_STORE_MEMORY_H

#include "adapters/store/store.h"

/* A rehearsal's store: salts follow from the replica and the number, so equal work gives equal events. */
Store *store_memory_new(const char *replica, int64_t now_ms);

/* The same that plays a database far away, which is waited for at each answer (tx_is_far). */
Store *store_memory_far_new(const char *replica, int64_t now_ms);

/* Runs what was queued before this call as one commit, then calls back. The number of jobs run. */
int store_memory_pump(Store *store);

/* The next count pumps fail with that status, writing nothing. */
void store_memory_fail(Store *store, int count, StoreStatus status);

/* The database goes away in the midst of what is run from now on, at the n-th point (see lossy_lose_at), and is there again for the next
 * pump: the one that was struck ends as STORE_AWAY. 0: it stays. Looks do not count. */
void store_memory_lose(Store *store, int n);

/* It went away since that was said. */
bool store_memory_has_lost(const Store *store);

/* What a power cut now would leave: a store with the last commit's content; queued jobs are gone, their callbacks never
 * come. The old store is freed. */
Store *store_memory_crash(Store *store);

/* Runs a job at once outside the queue, for tests to look. */
void store_memory_look(Store *store, StoreJob *job, void *context);

#endif
