/* SPDX-License-Identifier: Apache-2.0 */
/* A zone as the VTIMEZONE of a calendar file. For this room. */
#ifndef OSIER_ADAPTERS_RECORDS_CALENDAR_ZONE_H
#define OSIER_ADAPTERS_RECORDS_CALENDAR_ZONE_H

#include <libical/ical.h>

#include "core/calendar/zone.h"

/* Every change of the clocks from a day before the date on for so many days, each written out (RFC 5545 section 3.6.5), so that
 * no rule of thumb stands between the reader and the zone. The caller's, or its parent component's. */
icalcomponent *calendar_zone(const char *id, GTimeZone *zone, Day from, int days);

#endif
