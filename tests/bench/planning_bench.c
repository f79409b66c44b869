/* SPDX-License-Identifier: Apache-2.0 */
/* The next day's sessions of many plans, on one core: daily and weekly ones in the zones of a hosted service, as the planner
 * asks for them. Beside it libical alone, expanding the same rules without zones. */
#include <libical/ical.h>

#include "core/calendar/sessions.h"
#include "daemon/zones.h"
#include "tests/bench/figure.h"

enum { RUNS = 5, PLANS = 200000 };

static const char *const RULES[] = {NULL, "FREQ=DAILY", "FREQ=WEEKLY;BYDAY=MO,WE,FR",
                                    "FREQ=DAILY;INTERVAL=2"};
static const char *const PLACES[] = {"Europe/London",    "Europe/Dublin",    "America/New_York",
                                     "America/Chicago",  "Australia/Sydney", "Asia/Kolkata",
                                     "Pacific/Auckland", "Europe/Paris"};

typedef struct {
    Zones *zones;
    Day today;
    int64_t found;
} Bench;

static SessionTimes plan_of(const Bench *bench, int number)
{
    return (SessionTimes){.rule = RULES[number % (int)G_N_ELEMENTS(RULES)],
                          .from = bench->today - number % 700,
                          .times = {8 * 3600 + number % 6 * 600},
                          .n_times = 1};
}

static void plan_all(int count, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < count; i++) {
        const char *place = PLACES[i / 7 % (int)G_N_ELEMENTS(PLACES)];
        SessionTimes times = plan_of(bench, i);
        SessionInstant next;
        times.near = zones_near(bench->zones, place);
        bench->found += sessions_after(&times, zones_get(bench->zones, place),
                                       bench->today * DAY_MS + 12 * HOUR_MS, &next);
    }
}

/* One occurrence each, the iterator ready made: what the library gives at its best. */
static void expand_by_libical(int count, void *context)
{
    Bench *bench = context;
    struct icaltimetype start = {.year = 2026, .month = 3, .day = 2, .is_date = 1};
    struct icalrecurrencetype rule = icalrecurrencetype_from_string("FREQ=DAILY");
    icalrecur_iterator *iterator = icalrecur_iterator_new(rule, start);

    for (int i = 0; i < count; i++)
        bench->found += !icaltime_is_null_time(icalrecur_iterator_next(iterator));
    icalrecur_iterator_free(iterator);
}

int main(void)
{
    Bench bench = {.zones = zones_new()};
    Figure ours, bare;

    day_parse("2026-03-03", &bench.today);
    figure_compare(plan_all, expand_by_libical, PLANS, RUNS, &bench, &ours, &bare);
    figure_print("sessions planned, one core", &ours, "libical, occurrences of one rule", &bare);
    zones_free(bench.zones);
    return bench.found != 2 * RUNS * (int64_t)PLANS;
}
