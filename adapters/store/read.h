/* SPDX-License-Identifier: Apache-2.0 */
/* Reads a copy of a store (store.h: copy) that nobody else uses, outside any job: what exports stand on. The finders of this
 * room (find_*.h) and tx_select work on it; nothing is to be written. */
#ifndef OSIER_ADAPTERS_STORE_READ_H
#define OSIER_ADAPTERS_STORE_READ_H

#include "adapters/store/store_sqlite.h"

/* The copy, held exclusively. *why: one line (g_free) where the result is not OPEN_OK. */
OpenResult store_read_open(const char *path, Tx **tx, char **why);

/* Closes it; NULL, or the error that one of the readings met (g_free): what was read is then not all. */
char *store_read_close(Tx *tx);

/* Every row of a table in the order of its key, lent one at a time. */
typedef void StoreReadRow(const Row *row, void *context);
void store_read_rows(Tx *tx, TableId table, StoreReadRow *each, void *context);

#endif
