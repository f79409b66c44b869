/* SPDX-License-Identifier: Apache-2.0 */
/* The copies that lie in a folder. */
#ifndef OSIER_DAEMON_KEEP_COPIES_H
#define OSIER_DAEMON_KEEP_COPIES_H

#include <glib.h>
#include <stdint.h>

/* The name of a copy made at an instant, "osier-20260302T030000Z.db": they sort as they were made (g_free). */
char *copies_name(int64_t at_ms);

/* The names of all copies, oldest first (of char *); plain: of those alone that are not sealed. */
GPtrArray *copies_all(const char *folder);
GPtrArray *copies_plain(const char *folder);

/* Removes the oldest of them, so that no more than so many are left; and those of these names. */
void copies_drop_oldest(const char *folder, int most);
void copies_drop(const char *folder, const GPtrArray *names);

#endif
