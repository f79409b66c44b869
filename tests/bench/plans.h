/* SPDX-License-Identifier: Apache-2.0 */
/* The next session of many plans: daily and weekly ones in the zones of a hosted service, as the planner asks for them. */
#ifndef OSIER_TESTS_BENCH_PLANS_H
#define OSIER_TESTS_BENCH_PLANS_H

#include "core/calendar/sessions.h"
#include "daemon/zones.h"

typedef struct {
    Zones *zones;
    Day today;
    int64_t found; /* how many sessions so far */
} Plans;

/* A FigureRun: the next session of each of count plans; context is a Plans. */
void plans_run(int count, void *context);

#endif
