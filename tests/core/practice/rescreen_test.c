/* SPDX-License-Identifier: Apache-2.0 */
/* What a fresh screen says against a plan that runs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "core/practice/rescreen.h"
#include "tests/support/programmes.h"

typedef struct {
    const char *stage;
    const char *set_up;
    bool floor_before;
    const char *before;
    bool floor_now;
    const char *now;
    bool bars;
} Row;

static ScreenFound screen(bool floor, const char *const *finding)
{
    return (ScreenFound){.floor = floor, .findings = finding, .n_findings = *finding != NULL};
}

static void what_bars_a_plan(void **state)
{
    static const Row ROWS[] = {
        {"lower-hamstring", NULL, true, NULL, true, NULL, false},
        {"lower-hamstring", NULL, true, NULL, true, "lives alone", false},
        {"lower-hamstring", NULL, true, NULL, true, "a fracture of the wrist", true},
        {"lower-hamstring", NULL, true, "fractured T8", true, "a fracture of the wrist", false},
        {"lower-hamstring", NULL, true, "fractured T8", true, "DVT last month", true},
        {"lower-hamstring", NULL, true, NULL, true, "something nobody foresaw", true},
        {"lower-hamstring", NULL, true, "something odd", true, "something odd", false},
        {"lower-hamstring", NULL, true, "something odd", true, "something else", true},
        {"lower-hamstring", NULL, true, NULL, false, NULL, true}, /* off the door frame */
        {"lower-hamstring", "strap-bed", true, NULL, false, NULL, false},
        {"lower-hamstring", NULL, false, NULL, true, NULL, false}, /* goes on in the bed */
        {"lower-hamstring", NULL, true, NULL, true, "dizzy of late", true},
        {"hip-hinge", NULL, true, NULL, false, "dizzy of late", false}, /* standing at the wall */
    };
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        const Row *row = &ROWS[i];
        const ScreenFound before = screen(row->floor_before, &row->before);
        const ScreenFound now = screen(row->floor_now, &row->now);
        Reasons reasons = {0};
        bool bars = rescreen_bars(programme, programme_stage(programme, row->stage), row->set_up,
                                  &before, &now, &reasons);
        if (bars != row->bars) fail_msg("row %zu", i);
        assert_int_equal(reasons.n > 0, bars);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(what_bars_a_plan)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
