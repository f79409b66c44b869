/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's days, over and over: asked, sent, answered, reported. Ids of sessions lie anywhere, as real ones do. */
#ifndef OSIER_TESTS_BENCH_HISTORY_H
#define OSIER_TESTS_BENCH_HISTORY_H

#include "adapters/store/store.h"

/* The client of event number i where there are none with names. Valid until the next call in this thread. */
const char *history_client(int i);

/* Writes event number i of client, before now_ms. */
void history_write(Tx *tx, int i, const char *client, int64_t now_ms);

#endif
