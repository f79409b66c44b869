/* SPDX-License-Identifier: Apache-2.0 */
/* The next day's sessions of many plans, on one core. Beside it libical alone, expanding the same rules without zones. */
#include <libical/ical.h>

#include "tests/bench/figure.h"
#include "tests/bench/plans.h"

enum { RUNS = 5, PLANS = 200000 };

/* One occurrence each, the iterator ready made: what the library gives at its best. */
static void expand_by_libical(int count, void *context)
{
    Plans *plans = context;
    struct icaltimetype start = {.year = 2026, .month = 3, .day = 2, .is_date = 1};
    struct icalrecurrencetype rule = icalrecurrencetype_from_string("FREQ=DAILY");
    icalrecur_iterator *iterator = icalrecur_iterator_new(rule, start);

    for (int i = 0; i < count; i++)
        plans->found += !icaltime_is_null_time(icalrecur_iterator_next(iterator));
    icalrecur_iterator_free(iterator);
}

int main(void)
{
    Plans plans = {.zones = zones_new()};
    Figure ours, bare;

    day_parse("2026-03-03", &plans.today);
    figure_compare(plans_run, expand_by_libical, PLANS, RUNS, &plans, &ours, &bare);
    figure_print("sessions planned, one core", &ours, "libical, occurrences of one rule", &bare);
    zones_free(plans.zones);
    return plans.found != 2 * RUNS * (int64_t)PLANS;
}
