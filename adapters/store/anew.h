/* SPDX-License-Identifier: Apache-2.0 */
/* What some subjects' events gave is folded anew, and nothing else: where words were erased, two ids turned out to be one client's,
 * or a stamp was bounded. Inside a job; not for other rooms.
 *
 * Problem: to fold all events holds the store for minutes once there are a million. Idea: a row is touched by the events of one
 * subject (or of one client's ids) only. So the subjects' events are folded in memory as they are seen before the change, which
 * tells the rows that are theirs, and again as they are seen after it; what differs is written. Limit: an event can name a
 * session, a message or a bar of another subject. No osier writes such a one, but it is seen when it is folded (anew_note), and
 * from then on all is folded anew. So it is where rows are not what the subjects' events give alone, or where they are too many. */
#ifndef OSIER_ADAPTERS_STORE_ANEW_H
#define OSIER_ADAPTERS_STORE_ANEW_H

#include "adapters/store/engine.h"

/* Before what is seen of these subjects' events changes: sql selects the subjects, its arguments as of tx_select. Once two ids
 * are one client's, each stands for all. */
void anew_before(Tx *tx, const char *sql, const char *types, ...);

/* The change is made: writes what differs. False where that fails, or where all has to be folded anew (tx->refold). */
bool anew_fold(Tx *tx);

/* Nothing is to be folded anew any more. */
void anew_forget(Tx *tx);

/* The fold looked at this row for an event of tx->folding. */
void anew_note(Tx *tx, const Row *row);

/* The fold writes this row for an event of tx->folding. */
void anew_note_put(Tx *tx, const Row *row);

/* What anew_note found is kept with the store. */
void anew_keep(Tx *tx);

/* Does an event in the store name a row of another subject? And from now on one does. */
bool anew_is_crossed(Tx *tx);
void anew_set_crossed(Tx *tx);

#endif
