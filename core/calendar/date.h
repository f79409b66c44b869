/* SPDX-License-Identifier: Apache-2.0 */
/* Local dates and times of day as numbers, and instants as text. Proleptic Gregorian calendar, years 1 to 9999. */
#ifndef OSIER_CORE_CALENDAR_DATE_H
#define OSIER_CORE_CALENDAR_DATE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

/* A local date: days since 1970-01-01. */
typedef int32_t Day;

/* A local date and time of day without a zone. second: 0 to 86399. */
typedef struct {
    Day day;
    int32_t second;
} LocalTime;

#define SECOND_MS INT64_C(1000)
#define MINUTE_MS (60 * SECOND_MS)
#define HOUR_MS (60 * MINUTE_MS)
#define DAY_MS (24 * HOUR_MS)

/* The quotient rounded towards minus infinity, for times before 1970. by is positive. */
int64_t divide_down(int64_t value, int64_t by);

/* The date of year, month (1-12), day of month (1-31). False where there is no such date. */
bool day_from_civil(int year, int month, int mday, Day *day);

void day_to_civil(Day day, int *year, int *month, int *mday);

/* The same date so many years later, or earlier: the 29th of February becomes the 28th where there is none. A year out of
 * range leaves the day as it is. */
Day day_years_after(Day day, int years);

/* 1 Monday to 7 Sunday (ISO 8601). */
int day_weekday(Day day);

/* "2026-03-02". day_parse reads exactly that form; the formatted string is the caller's to g_free. */
bool day_parse(const char *text, Day *day);
char *day_format(Day day);

/* "2026-03-02T08:30" with optional ":SS"; formatted with seconds only where they are not zero. */
bool local_parse(const char *text, LocalTime *local);
char *local_format(LocalTime local);

/* "08:30" to seconds of the day, 00:00 to 23:59. */
bool clock_time_parse(const char *text, int32_t *second);

/* Instants: RFC 3339. Reads any offset ("Z", "+01:00") and fractions (kept to the millisecond); writes UTC with "Z",
 * whole seconds (rounded down) in instant_format, milliseconds where they are not zero in instant_format_exact.
 * An instant outside the years 1 to 9999 is refused in reading and written as the nearest end of them. */
bool instant_parse(const char *text, int64_t *ms);
char *instant_format(int64_t ms);
char *instant_format_exact(int64_t ms);

/* "30s", "15min", "3h", "2d" to milliseconds, 1 s to 400 d. */
bool duration_parse(const char *text, int64_t *ms);

#endif
