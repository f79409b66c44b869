/* SPDX-License-Identifier: Apache-2.0 */
/* How often something may be asked for, by name: so many at once, then one each so often. Time is handed in, in milliseconds of a
 * clock that only goes forward. */
#ifndef OSIER_DAEMON_PAGE_METER_H
#define OSIER_DAEMON_PAGE_METER_H

#include <stdbool.h>
#include <stdint.h>

typedef struct Meter Meter;

typedef struct {
    int burst;       /* so many at once */
    int64_t each_ms; /* and one more each so often */
} MeterRate;

Meter *meter_new(void);
void meter_free(Meter *meter);

/* Takes one for that name; false where there is none left yet. Names that nobody has asked for of late are forgotten; where
 * there are too many at once, all are. */
bool meter_take(Meter *meter, const char *name, const MeterRate *rate, int64_t now_ms);

#endif
