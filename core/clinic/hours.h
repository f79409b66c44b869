/* SPDX-License-Identifier: Apache-2.0 */
/* Opening hours, days closed and days away, as the settings write them. Only the clinic room uses it; asking whether the
 * clinic is open stands in clinic.h. */
#ifndef OSIER_CORE_CLINIC_HOURS_H
#define OSIER_CORE_CLINIC_HOURS_H

#include "core/clinic/clinic.h"
#include "core/clinic/section.h"

/* "monday" or "mon" to 1..7; 0 where it is no day. */
int weekday_parse(const char *text);

/* hours: {mon-fri: "08:30-17:30", sat: closed} into hours[1..7]. A day of which nothing is said is closed. */
void hours_read(const Section *clinic, OpenHours hours[8]);

/* A list of dates and spans, [2026-12-25, 2026-07-01/2026-07-14]. An empty array where absent or faulty. */
GArray *spans_read(const Section *section, const char *key);

#endif
