/* SPDX-License-Identifier: Apache-2.0 */
/* The shape of a store's tables, from version to version, forward only. */
#ifndef OSIER_ADAPTERS_STORE_MIGRATE_H
#define OSIER_ADAPTERS_STORE_MIGRATE_H

#include "adapters/store/engine.h"

/* What is missing of the events and of meta, which every version has (g_free), or NULL. */
char *migrate_lacking(Tx *tx);

/* The store's version; 0 where it tells none. */
int migrate_version(Tx *tx);

/* Brings an older store to SCHEMA_VERSION in one transaction, and sees that every declared table is there with its columns.
 * False: tx->problem. */
bool migrate_forward(Tx *tx);

/* Makes the derived tables anew and folds every event into them; inside a transaction. */
bool migrate_refold(Tx *tx);

/* Folds what the rest is folded by into the tables of another connection, or its own: bounds on stamps, and what says that ids
 * are one client's. */
bool migrate_fold_first(Tx *from, Tx *into);

/* Folds every event of a store. */
bool migrate_fold_into(Tx *from, Tx *into);

/* Makes the declared tables that are derived, and the local ones too where asked. */
bool migrate_make_tables(Tx *tx, bool local);

/* Makes everything that a new store has, the events too. */
bool migrate_make_all(Tx *tx);

#endif
