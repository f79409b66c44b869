/* SPDX-License-Identifier: Apache-2.0 */
/* The limit that replies are measured against: libmicrohttpd with a thread of its own, one durable insert into SQLite for each
 * request (WAL, synchronous FULL, a transaction each), then 200. Nothing is read. */
#ifndef OSIER_TESTS_BENCH_PLAIN_HOOK_H
#define OSIER_TESTS_BENCH_PLAIN_HOOK_H

typedef struct PlainHook PlainHook;

/* Its database lies in the folder, which must be there; its port on the loopback is put into *port. */
PlainHook *plain_hook_new(const char *folder, int *port);
void plain_hook_free(PlainHook *hook);

#endif
