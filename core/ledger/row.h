/* SPDX-License-Identifier: Apache-2.0 */
/* What else can be done with a row: for the fold, the store and dumps. */
#ifndef OSIER_CORE_LEDGER_ROW_H
#define OSIER_CORE_LEDGER_ROW_H

#include "core/ledger/table.h"

/* Copies one value, null included, between columns of one type. */
void row_copy_value(Row *to, int to_column, const Row *from, int from_column);

/* How much memory it takes, about. */
size_t row_bytes(const Row *row);

/* Order of one column's values of two rows of a table; null comes before everything. <0, 0, >0. */
int row_compare_value(const Row *a, const Row *b, int column);

/* Order by the key columns. */
int row_compare_key(const Row *a, const Row *b);

/* Of the table and the key columns: rows of one key give one number. */
guint row_hash_key(const Row *row);

/* Adds the row as one line of text: the table's name, then column=value for what is set. Equal rows
 * give equal lines. */
void row_append_line(const Row *row, GString *line);

/* Whether the row was read from a table, and in which of its columns (bit 0 the first) it has been set otherwise since: so
 * that a store writes back only what changed. */
void row_mark_stored(Row *row);
bool row_is_stored(const Row *row);
uint64_t row_changed(const Row *row);

#endif
