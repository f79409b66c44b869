/* SPDX-License-Identifier: Apache-2.0 */
/* Time zones by IANA name, from the system's zone database, each read once. For one thread. */
#ifndef OSIER_DAEMON_ZONES_H
#define OSIER_DAEMON_ZONES_H

#include "core/calendar/zone.h"

typedef struct Zones Zones;

Zones *zones_new(void);
void zones_free(Zones *zones);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Zones, zones_free)

/* The zone of a name such as "Europe/London", or NULL for a name the database lacks. The zone
 * belongs to the cache and lives until the next call of zones_get (which may empty a full cache);
 * g_time_zone_ref keeps it longer. */
GTimeZone *zones_get(Zones *zones, const char *id);

/* A stretch of the zone's time for zone_instant_near and the like; it lives as long as the zone. NULL for a name the
 * database lacks. */
ZoneStretch *zones_near(Zones *zones, const char *id);

/* The local day that an instant falls in. */
typedef struct {
    int64_t at_ms;
    LocalTime local; /* at that instant */
    int64_t from_ms; /* the first instant of the day ... */
    int64_t to_ms;   /* ... and of the next */
} ZoneDay;

/* It is worked out once while the same instant is asked for: jobs see many clients at one instant. Lives as the zone does;
 * NULL for a name the database lacks. */
const ZoneDay *zones_day(Zones *zones, const char *id, int64_t at_ms);

#endif
