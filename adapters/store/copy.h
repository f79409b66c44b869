/* SPDX-License-Identifier: Apache-2.0 */
/* A copy of an open store into a new file, a few pages at a time, while jobs go on in between: SQLite's backup API carries
 * over what the same connection writes meanwhile. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_COPY_H
#define OSIER_ADAPTERS_STORE_COPY_H

#include <sqlite3.h>
#include <stdbool.h>

typedef struct Copy Copy;

/* Makes the file, mode 0600; one that is there already is a problem. Never NULL. */
Copy *copy_begin(sqlite3 *from, const char *path);

/* Copies so many pages, outside any transaction. False once there is nothing more to do: it is whole, or has a problem. */
bool copy_step(Copy *copy, int pages);

/* Syncs and frees. NULL where the copy is whole and on the device, else one line on why it is not (g_free); its file is gone
 * then. */
char *copy_end(Copy *copy);

#endif
