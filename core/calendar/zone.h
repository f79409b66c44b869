/* SPDX-License-Identifier: Apache-2.0 */
/* Local time to instant and back, by RFC 5545 section 3.3.5: in a gap the offset before the gap counts (02:30 becomes
 * 03:30), of a time that occurs twice the first is meant. A zone arrives ready-made; core reads no files. */
#ifndef OSIER_CORE_CALENDAR_ZONE_H
#define OSIER_CORE_CALENDAR_ZONE_H

#include "core/calendar/date.h"

typedef enum {
    LOCAL_PLAIN,
    LOCAL_GAP,     /* the clock skips this time */
    LOCAL_OVERLAP, /* the clock shows this time twice */
    LOCAL_MISSING  /* the whole local date does not exist in this zone (Apia 2011-12-30) */
} LocalKind;

/* The instant of a local time. kind may be NULL. For LOCAL_MISSING the value is still the 3.3.5 reading. */
int64_t zone_instant(GTimeZone *zone, LocalTime local, LocalKind *kind);

/* Seconds east of UTC that hold at the instant. Past the end of the zone file its last years go on repeating. */
int32_t zone_offset(GTimeZone *zone, int64_t ms);

/* What a clock in the zone shows at the instant (rounded down to the second). */
LocalTime zone_local(GTimeZone *zone, int64_t ms);

/* A stretch of time in which a zone's offset does not change. GLib walks through all changes of a zone for each question;
 * whoever has many about one zone keeps one of these, {0} at first, and what falls well inside it is answered at once. */
typedef struct {
    GTimeZone *zone; /* lent; NULL: nothing is known yet */
    int64_t from;    /* seconds since 1970 */
    int64_t to;
    int32_t offset;
} ZoneStretch;

/* zone_instant and zone_local by way of the stretch, which moves to where the time lies. The zone must live as long as it. */
int64_t zone_instant_near(ZoneStretch *near, GTimeZone *zone, LocalTime local, LocalKind *kind);
LocalTime zone_local_near(ZoneStretch *near, GTimeZone *zone, int64_t ms);

/* "plain", "gap", "overlap", "missing". */
const char *local_kind_name(LocalKind kind);

#endif
