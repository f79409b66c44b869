/* SPDX-License-Identifier: Apache-2.0 */
/* SQL made from the declared tables. All texts are the caller's to g_free. */
#ifndef OSIER_ADAPTERS_STORE_SQL_H
#define OSIER_ADAPTERS_STORE_SQL_H

#include "adapters/store/driver.h"

/* The statement that makes a table, and then the one for each of its indexes (of char *). */
GPtrArray *sql_create(const Dialect *dialect, TableId table);

/* The same for the table of events. */
GPtrArray *sql_create_events(const Dialect *dialect);

/* The statement that adds a declared column, which is no key, to a table that lacks it. */
char *sql_add_column(const Dialect *dialect, TableId table, int column);

/* "SELECT every column FROM table ". */
char *sql_select(TableId table);
/* The same in the order of the keys. */
char *sql_select_ordered(TableId table);

/* The row of a key; its writing over another; its removal. Arguments are the columns in order, or the keys in order. */
char *sql_get(TableId table);
char *sql_put(TableId table);
char *sql_remove(TableId table);

/* tail with " WHERE " before it unless it is empty or begins with where, order or limit. */
char *sql_tail(const char *tail);

/* Sets the columns whose bits are in changed (bit 0 the first column; keys are not set) of the row of
 * the key. */
char *sql_update(TableId id, uint64_t changed);

#endif
