/* SPDX-License-Identifier: Apache-2.0 */
/* A client's own dose, set-up and goal, by the real programs: what a plan may depart in from its programme, and what not. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define PLAN "plan set %s --programme calf-and-hamstring --at 08:30 --stage lower-hamstring "
#define FRAME "plan set %s --programme tall-and-open --at 08:30 --stage chest-at-the-frame "
#define PUMPING "plan set %s --programme calf-and-hamstring --at 08:30 --stage ankle-pumping "

static int open_clinic(void **state)
{
    Solo *clinic = g_new(Solo, 1);

    *clinic = solo_open(SPEAKS_FORM, "08:30");
    *state = clinic;
    return 0;
}

static int close_clinic(void **state)
{
    solo_close(*state);
    g_free(*state);
    return 0;
}

static void a_set_up_is_the_stages_and_one_that_the_screen_allows(void **state)
{
    Solo *clinic = *state;

    site_fails(clinic->site, 65, "is no set-up of", PLAN "--set-up ladder", clinic->ada);
    site_fails(clinic->site, 65, "is none of the set-ups of stage", PLAN "--set-up worktop",
               clinic->ada);
    json_decref(site_ask(clinic->site, PLAN "--set-up strap-floor", clinic->ada));
    json_decref(
        site_ask(clinic->site, "screen %s --by 'R. Okafor' --floor no --clear", clinic->ada));
    site_fails(clinic->site, 77, "the screen rules it out", PLAN "--set-up strap-floor",
               clinic->ada);
    json_decref(site_ask(clinic->site, PLAN "--set-up strap-bed", clinic->ada));
}

/* What one's own muscles hold is held for a second or two; what leans against a door frame, for as long as is good. */
static void an_active_movement_is_not_made_a_long_hold(void **state)
{
    Solo *clinic = *state;

    site_fails(clinic->site, 65, "is too long for", PUMPING "--hold-s 30", clinic->ada);
    site_fails(clinic->site, 65, "is too long for", PUMPING "--hold-s 2-6", clinic->ada);
    json_decref(site_ask(clinic->site, PUMPING "--hold-s 2-5", clinic->ada));
    /* A stage with both takes what is good for the active one. */
    site_fails(clinic->site, 65, "is too long for", PLAN "--hold-s 30", clinic->ada);
    json_decref(site_ask(clinic->site, FRAME "--hold-s 45", clinic->ada));
}

static void a_dose_that_cannot_be_is_refused(void **state)
{
    static const char *const BAD[][2] = {{"--sets 1.5", "must be a whole number"},
                                         {"--sets 0", "sets"},
                                         {"--sets 11", "sets"},
                                         {"--repetitions 10-8", "must be a number or from-to"},
                                         {"--repetitions 0-3", "must be a number or from-to"},
                                         {"--repetitions 61", "must be a number or from-to"},
                                         {"--repetitions many", "must be a number or from-to"},
                                         {"--hold-s 181", "must be a number or from-to"},
                                         {"--goal-deg 19", "goal"},
                                         {"--goal-deg 121", "goal"},
                                         {"--goal-left-deg 0", "goal"},
                                         {"--angle-deg 181", "angle"}};
    Solo *clinic = *state;
    json_t *before = site_ask(clinic->site, "plan show %s", clinic->ada);

    for (gsize i = 0; i < G_N_ELEMENTS(BAD); i++)
        site_fails(clinic->site, 65, BAD[i][1], PLAN "%s", clinic->ada, BAD[i][0]);
    json_t *after = site_ask(clinic->site, "plan show %s", clinic->ada);
    assert_true(json_equal(before, after)); /* and nothing of it was taken */
    json_decref(before);
    json_decref(after);
}

static void a_goal_may_be_of_one_side(void **state)
{
    Solo *clinic = *state;

    json_t *plan = site_ask(clinic->site, PLAN "--goal-deg 80 --goal-right-deg 70", clinic->ada);
    look_json(json_object_get(plan, "goal_deg"), "{\"left\":80.0,\"right\":70.0}");
    json_decref(plan);
    /* Set anew without, it is the programme's again. */
    plan = site_ask(clinic->site, PLAN "--sets 2", clinic->ada);
    look_json(json_object_get(plan, "goal_deg"), "{\"left\":90.0,\"right\":90.0}");
    json_decref(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_set_up_is_the_stages_and_one_that_the_screen_allows,
                                        open_clinic, close_clinic),
        cmocka_unit_test_setup_teardown(an_active_movement_is_not_made_a_long_hold, open_clinic,
                                        close_clinic),
        cmocka_unit_test_setup_teardown(a_dose_that_cannot_be_is_refused, open_clinic,
                                        close_clinic),
        cmocka_unit_test_setup_teardown(a_goal_may_be_of_one_side, open_clinic, close_clinic),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
