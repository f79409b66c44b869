/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/plans.h"

static const char *const RULES[] = {NULL, "FREQ=DAILY", "FREQ=WEEKLY;BYDAY=MO,WE,FR",
                                    "FREQ=DAILY;INTERVAL=2"};
static const char *const PLACES[] = {"Europe/London",    "Europe/Dublin",    "America/New_York",
                                     "America/Chicago",  "Australia/Sydney", "Asia/Kolkata",
                                     "Pacific/Auckland", "Europe/Paris"};

static SessionTimes plan_of(const Plans *plans, int number)
{
    return (SessionTimes){.rule = RULES[number % (int)G_N_ELEMENTS(RULES)],
                          .from = plans->today - number % 700,
                          .times = {8 * 3600 + number % 6 * 600},
                          .n_times = 1};
}

void plans_run(int count, void *context)
{
    Plans *plans = context;

    for (int i = 0; i < count; i++) {
        const char *place = PLACES[i / 7 % (int)G_N_ELEMENTS(PLACES)];
        SessionTimes times = plan_of(plans, i);
        SessionInstant next;
        times.near = zones_near(plans->zones, place);
        plans->found += sessions_after(&times, zones_get(plans->zones, place),
                                       plans->today * DAY_MS + 12 * HOUR_MS, &next);
    }
}
