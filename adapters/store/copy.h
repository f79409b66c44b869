/* SPDX-License-Identifier: Apache-2.0 */
/* A copy of an open store into a new file, a few pages at a time, while jobs go on in between: SQLite's backup API carries
 * over what the same connection writes meanwhile. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_COPY_H
#define OSIER_ADAPTERS_STORE_COPY_H

#include <sqlite3.h>
#include <stdbool.h>

typedef struct Copy Copy;

/* A kind of copy: what copy_step and copy_end do. */
struct Copy {
    bool (*step)(Copy *copy, int pages);
    char *(*end)(Copy *copy);
};

/* Makes the file, mode 0600; one that is there already is a problem. Never NULL. */
Copy *copy_begin(sqlite3 *from, const char *path);

/* Copies so many pages, outside any transaction. False once there is nothing more to do: it is whole, or has a problem. */
static inline bool copy_step(Copy *copy, int pages)
{
    return copy->step(copy, pages);
}

/* Syncs and frees. NULL where the copy is whole and on the device, else one line on why it is not (g_free); its file is gone
 * then. */
static inline char *copy_end(Copy *copy)
{
    return copy->end(copy);
}

/* Syncs a file and the folder that names it. False: errno. */
bool copy_sync(const char *path);

#endif
