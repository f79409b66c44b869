/* SPDX-License-Identifier: Apache-2.0 */
/* A copy of a store of any kind into a new SQLite file, which opens like any other. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_COPY_OUT_H
#define OSIER_ADAPTERS_STORE_COPY_OUT_H

#include "adapters/store/copy.h"
#include "adapters/store/engine.h"

/* As copy_begin. All of it is copied in the first step. */
Copy *copy_out_begin(Tx *from, const char *path);

#endif
