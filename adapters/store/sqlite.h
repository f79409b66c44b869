/* SPDX-License-Identifier: Apache-2.0 */
/* The driver on SQLite. */
#ifndef OSIER_ADAPTERS_STORE_SQLITE_H
#define OSIER_ADAPTERS_STORE_SQLITE_H

#include <sqlite3.h>

#include "adapters/store/driver.h"

#define APPLICATION_ID 0x4f736965 /* "Osie" */

/* Takes over db, whose pragmas are set. */
Driver *sqlite_driver_new(sqlite3 *db);

/* The connection of a driver made by sqlite_driver_new. */
sqlite3 *sqlite_of(Driver *driver);

/* Pages in the write-ahead log after the last commit. */
int sqlite_wal_frames(const Driver *driver);

/* Copies the write-ahead log into the database, which SQLite would do by itself but without telling of a failed sync. The
 * code of SQLite. */
int sqlite_checkpoint(Driver *driver, int how);

#endif
