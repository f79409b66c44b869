/* SPDX-License-Identifier: Apache-2.0 */
/* What the clocks of this room share. */
#ifndef OSIER_DAEMON_CLOCK_CLOCK_PRIVATE_H
#define OSIER_DAEMON_CLOCK_CLOCK_PRIVATE_H

#include "daemon/clock/clock.h"

struct Clock {
    int64_t (*now)(const Clock *clock);
    void (*arm)(Clock *clock); /* the earliest timer may have changed */
    void (*free)(Clock *clock);
    bool stepped;
    bool made_up;
    GPtrArray *timers; /* of Timer; a dozen at most, so a scan is the simplest queue */
    uint64_t order;
};

void clock_init(Clock *clock);
void clock_clear(Clock *clock);

#endif
