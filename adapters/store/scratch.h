/* SPDX-License-Identifier: Apache-2.0 */
/* Derived tables that are thrown away after use. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_SCRATCH_H
#define OSIER_ADAPTERS_STORE_SCRATCH_H

#include "adapters/store/engine.h"

/* Empty ones, in a transaction: in memory as long as they fit a cache of 256 MB, then in a file that nobody else sees. They have
 * no indexes, which folding and comparing never ask. tx->bad where they cannot be made. engine_free throws them away. */
Tx *scratch_new(void);

#endif
