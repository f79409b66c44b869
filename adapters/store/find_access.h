/* SPDX-License-Identifier: Apache-2.0 */
/* Finds who may enter the page, and keeps what they looked at and changed. Arrays hold Row and free
 * them. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_ACCESS_H
#define OSIER_ADAPTERS_STORE_FIND_ACCESS_H

#include "adapters/store/store.h"

/* Every account, closed ones too, by name. */
GPtrArray *find_accounts(Tx *tx);

/* Drops the links to a client's calendar from the meta table ("feed.HASH", JSON with the client's id). How many there were. */
int feeds_drop(Tx *tx, const char *client);

/* Writes down one look at a client, or one change. client NULL: several were shown, or none is meant. */
void look_note(Tx *tx, const char *by, const char *client, bool change, const char *what);

/* Drops those before an instant. */
void look_drop(Tx *tx, int64_t before_ms);

/* The latest looks and changes since an instant, newest first, limit at most; client NULL: all. */
GPtrArray *find_looks(Tx *tx, const char *client, int64_t since_ms, int limit);

#endif
