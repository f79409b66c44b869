/* SPDX-License-Identifier: Apache-2.0 */
/* Rows as they stand in their tables, kept in memory by their keys, those that are known not to be there among them: what is
 * about to be made is looked for more than once, and what was made is read again soon. Nobody else writes to a store that is
 * open, so what is kept holds as long as every write is told of here or lets go of everything. Bounded: what was not asked for of
 * late is let go. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_ROWS_H
#define OSIER_ADAPTERS_STORE_ROWS_H

#include "core/ledger/table.h"

typedef struct Rows Rows;

Rows *rows_new(void);
void rows_free(Rows *rows);

/* Nothing is known any more. */
void rows_forget(Rows *rows);

/* Is it known whether there is a row with the key of this one? Then *row is it, lent until the next call, or NULL where there is
 * none. */
bool rows_find(Rows *rows, const Row *key, const Row **row);

/* What was read from the table: a row, which is copied, or NULL, that there is none. */
void rows_note(Rows *rows, const Row *key, const Row *row);

/* The same of what was written, but only where the key was known before: what is written and never looked at again does not
 * push out the rest. */
void rows_note_written(Rows *rows, const Row *key, const Row *row);

#endif
