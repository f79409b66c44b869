/* SPDX-License-Identifier: Apache-2.0 */
/* Every table of a store as CSV files. */
#ifndef OSIER_DAEMON_CLI_RECORDS_TABLES_H
#define OSIER_DAEMON_CLI_RECORDS_TABLES_H

#include "adapters/store/read.h"

/* Writes into an empty folder: clients.csv as an import reads it, a file for each table but those that hold secrets or
 * pointers of this machine alone (account, code, cursor, peer, meta), and event.csv, the ledger. rows: how many in all. NULL,
 * or one line on what could not be written (g_free). */
char *records_tables(Tx *tx, const char *folder, int64_t *rows);

#endif
