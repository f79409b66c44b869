/* SPDX-License-Identifier: Apache-2.0 */
/* Is an open store sound? Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_CHECK_H
#define OSIER_ADAPTERS_STORE_CHECK_H

#include "adapters/store/engine.h"

/* Adds a line to findings (of char *) for each fault, as store_sqlite_check does. The number of events. */
int64_t check_store(Tx *tx, GPtrArray *findings);

#endif
