/* SPDX-License-Identifier: Apache-2.0 */
/* Finding what a person named by the beginning of its id. */
#ifndef OSIER_ADAPTERS_STORE_FIND_H
#define OSIER_ADAPTERS_STORE_FIND_H

#include "adapters/store/store.h"

/* How many rows of a table (its key is one text of ASCII) begin with prefix, large and small letters alike: 0, 1, or 2 for
 * two and more. *id is the whole id where there is one (g_free), or where one is exactly the prefix; else NULL. An empty
 * prefix finds nothing. */
int find_by_prefix(Tx *tx, TableId table, const char *prefix, char **id);

/* The same among clients: the subjects of the setting "name". */
int find_client_by_prefix(Tx *tx, const char *prefix, char **id);

#endif
