/* SPDX-License-Identifier: Apache-2.0 */
/* The system's zone database. */
#ifndef OSIER_ADAPTERS_FILES_ZONES_H
#define OSIER_ADAPTERS_FILES_ZONES_H

#include <glib.h>

/* The zone of an IANA name, or NULL where the database has none of that name (fixed offsets such as "+01:00" are no
 * names). The caller unrefs. */
GTimeZone *zone_load(const char *name);

#endif
