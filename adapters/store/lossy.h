/* SPDX-License-Identifier: Apache-2.0 */
/* A driver whose database can go away in the midst of a transaction, to order: for the store's twin. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_LOSSY_H
#define OSIER_ADAPTERS_STORE_LOSSY_H

#include "adapters/store/driver.h"

/* Takes over the driver below, SQLite's, which does the work. far: it plays a database that is waited for at each answer. */
Driver *lossy_driver_new(Driver *below, bool far);

/* The database goes away at the n-th point from now on; 0: not at all. Points are the beginning of each statement that is run and, of
 * one that gives rows, what follows its first. Until the transaction is rolled back nothing answers; then it is there again. */
void lossy_lose_at(Driver *driver, int n);

/* While it is held no point is reached. */
void lossy_hold(Driver *driver, bool held);

/* It went away since the last lossy_lose_at. */
bool lossy_has_lost(const Driver *driver);

#endif
