/* SPDX-License-Identifier: Apache-2.0 */
/* The system's zone database. */
#ifndef OSIER_ADAPTERS_FILES_ZONES_H
#define OSIER_ADAPTERS_FILES_ZONES_H

#include <glib.h>
#include <stdint.h>

/* The zone of an IANA name, or NULL where the database has none of that name (fixed offsets such as "+01:00" are no
 * names). The caller unrefs. */
GTimeZone *zone_load(const char *name);

/* The version of the database, as "2025b" (g_free), and an instant by which it had been released: its files' own date, or
 * the end of the year in its name where that is earlier. NULL where it does not tell. root: NULL for the system's own
 * folder. */
char *zone_database(const char *root, int64_t *released_ms);

#endif
