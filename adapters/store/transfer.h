/* SPDX-License-Identifier: Apache-2.0 */
/* A whole store from one database into another, of whatever kinds. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_TRANSFER_H
#define OSIER_ADAPTERS_STORE_TRANSFER_H

#include "adapters/store/engine.h"

/* Makes all tables in an empty database and fills them with the rows of another, in one transaction of each. Rows that lie in
 * the order of their making keep it. False: the problem of either. */
bool transfer_all(Tx *from, Tx *into);

/* The SHA-256 in hex of all that a store holds, every event and row in the order of its key (g_free): the same for the same
 * content in whatever database. NULL where it cannot be read: tx->problem. Outside a transaction. */
char *transfer_digest(Tx *tx);

#endif
