/* SPDX-License-Identifier: Apache-2.0 */
/* Local time for the oracle, by GLib's calendar alone: osier's own is what is under test. */
#ifndef OSIER_TESTS_SIM_LOCAL_H
#define OSIER_TESTS_SIM_LOCAL_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

/* The instant of a local date ("2026-03-29") and minute of the day, by RFC 5545 section 3.3.5: the
 * offset before a gap, the first of two. */
int64_t local_instant(GTimeZone *zone, const char *date, int minute);

/* What the clock on the wall shows: minute of the day, and the date (g_free; may be NULL). */
int local_minute(GTimeZone *zone, int64_t ms, char **date);

/* ISO weekday, 1 Monday to 7 Sunday. */
int local_weekday(GTimeZone *zone, int64_t ms);

/* The date so many days later (g_free). */
char *local_date_add(const char *date, int days);

/* Minutes of "08:30". */
int local_minute_of(const char *text);

#endif
