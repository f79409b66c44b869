/* SPDX-License-Identifier: Apache-2.0 */
/* What a store's events give, folded anew in an order of its own into tables in memory, beside the store's own tables. */
#ifndef OSIER_TESTS_SUPPORT_LEDGER_REBUILD_H
#define OSIER_TESTS_SUPPORT_LEDGER_REBUILD_H

#include "adapters/store/store.h"

/* Every row that the events give as a line, sorted (g_free). Inside a job. */
char *ledger_rebuilt(Tx *tx);

/* A dump's lines (tx_dump) sorted alike (g_free). */
char *ledger_sorted(const char *dump);

#endif
