/* SPDX-License-Identifier: Apache-2.0 */
/* Do the events give the very rows that the tables hold? Not for other rooms.
 *
 * Problem: to fold a million events into tables of their own and compare them takes most of its time to put rows into trees that
 * are far larger than a cache. Idea: a row is touched by the events of one subject (or of one client's ids) only, and in which
 * order subjects are folded plays no part. So the events are walked in the order of their subjects, the rows of one are folded in
 * memory, added to a sum (tally.h) and let go; the sum of what the tables hold needs a walk through each, in its own order.
 *
 * Why that is enough: fold the subjects one after the other into common tables. As long as none looks at a row that another one
 * wrote, each does what it does alone. The first that does look at such a row either writes it, and then it is counted twice,
 * while a table holds no key twice and the sums differ; or it does not, and then the table holds a row which the subject asked
 * for and did not have, and that is looked up. What stands for all (erasures, bounds, which ids are one) is kept in common.
 *
 * Limit: what is wrong, and where, it does not tell. Who gets a no folds into tables and compares. */
#ifndef OSIER_ADAPTERS_STORE_PROVE_H
#define OSIER_ADAPTERS_STORE_PROVE_H

#include "adapters/store/engine.h"

typedef struct Proof Proof;

/* Begins to fold, in a thread and by a connection of its own, where tx can have a second one (driver.h). Nothing is written by tx
 * until the proof has ended. */
Proof *prove_begin(Tx *tx);

/* Inside a transaction of tx that reads. events: how many there are. False: no, or it cannot be told this way: an event names
 * what is another subject's, or a connection failed. */
bool prove_tables(Proof *proof, int64_t events);

void prove_end(Proof *proof);

#endif
