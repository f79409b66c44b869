/* SPDX-License-Identifier: Apache-2.0 */
/* Rows that are written back together. Inside a job; not for other rooms.
 *
 * Problem: another replica's events come by the thousand, and several that follow one another touch one row: a session is asked,
 * settled, reported. Idea: while such events are taken in, rows of the tables that most events touch are held here, and each is
 * written once. Whoever looks further than at one row's key sees what was written: before any other statement is run, all is
 * written back (engine_borrow). */
#ifndef OSIER_ADAPTERS_STORE_GATHER_H
#define OSIER_ADAPTERS_STORE_GATHER_H

#include "adapters/store/engine.h"

Gather *gather_new(void);
void gather_free(Gather *gather);

/* Are rows of this table held? It has one text as its key. */
bool gather_takes(TableId table);

/* The row of that key, lent until the next put; NULL where it is not held. */
const Row *gather_find(const Gather *gather, const Row *key);

/* Holds a copy in place of the row of its key. */
void gather_put(Tx *tx, const Row *row);

/* Writes all of them back in the order in which they were first put. */
void gather_flush(Tx *tx);

/* Lets go of all of them: what they are of is undone. */
void gather_forget(Gather *gather);

#endif
