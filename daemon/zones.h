/* SPDX-License-Identifier: Apache-2.0 */
/* Time zones by IANA name, from the system's zone database, each read once. For one thread. */
#ifndef OSIER_DAEMON_ZONES_H
#define OSIER_DAEMON_ZONES_H

#include <glib.h>

typedef struct Zones Zones;

Zones *zones_new(void);
void zones_free(Zones *zones);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Zones, zones_free)

/* The zone of a name such as "Europe/London", or NULL for a name the database lacks. The zone
 * belongs to the cache and lives until the next call of zones_get (which may empty a full cache);
 * g_time_zone_ref keeps it longer. */
GTimeZone *zones_get(Zones *zones, const char *id);

#endif
