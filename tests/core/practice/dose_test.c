/* SPDX-License-Identifier: Apache-2.0 */
/* Dose arithmetic against the papers that equate doses, and the guidance beside it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/dose.h"
#include "tests/support/near.h"
#include "tests/support/programmes.h"

static Dose held(int sets, double repetitions, double hold_s)
{
    return (Dose){.work = WORK_STATIC,
                  .each_side = true,
                  .sets = sets,
                  .repetitions = {repetitions, repetitions},
                  .hold_s = {hold_s, hold_s},
                  .rest_s = {10, 10}};
}

static double seconds(Dose dose)
{
    Range range = dose_seconds(&dose);

    near(range.from, range.to, 0);
    return range.to;
}

/* A stage of one static movement. */
typedef struct {
    Stage stage;
    Movement movement;
    gpointer list[1];
    GPtrArray movements;
} OneMovement;

static void one_movement(OneMovement *one, Dose dose, int a_day, int days)
{
    memset(one, 0, sizeof *one);
    one->movement = (Movement){.key = "hold", .muscle = "hamstring", .dose = dose};
    one->list[0] = &one->movement;
    one->movements = (GPtrArray){.pdata = one->list, .len = 1};
    one->stage =
        (Stage){.movements = &one->movements, .sessions_a_day = a_day, .days_a_week = days};
}

static MuscleWeek week(Dose dose, int a_day, int days)
{
    MuscleWeek weeks[DOSE_MUSCLES_MAX];
    OneMovement one;

    one_movement(&one, dose, a_day, days);
    assert_int_equal(stage_week_planned(&one.stage, NULL, weeks), 1);
    return weeks[0];
}

/* Ayala and Sainz de Baranda 2010 (J Strength Cond Res 24:430): 12 x 15 s, 6 x 30 s and 4 x 45 s
 * are one dose of 180 s. Johnson 2014 (Phys Ther Sport 15:101): 9 x 10 s and 3 x 30 s are one dose
 * of 90 s. */
static void doses_that_the_papers_equate(void **state)
{
    (void)state;
    near(seconds(held(1, 12, 15)), 180, 0);
    near(seconds(held(1, 6, 30)), 180, 0);
    near(seconds(held(1, 4, 45)), 180, 0);
    near(seconds(held(2, 2, 45)), 180, 0);
    near(seconds(held(1, 9, 10)), 90, 0);
    near(seconds(held(1, 3, 30)), 90, 0);
}

/* Feland 2001 (Phys Ther 81:1110): four repetitions of 60, 30 or 15 s, five times a week: 20, 10
 * and 5 minutes a week. */
static void felands_weeks(void **state)
{
    (void)state;
    near(week(held(1, 4, 60), 1, 5).dose.static_s.to / 60, 20, 1e-12);
    near(week(held(1, 4, 30), 1, 5).dose.static_s.to / 60, 10, 1e-12);
    near(week(held(1, 4, 15), 1, 5).dose.static_s.to / 60, 5, 1e-12);
}

/* Garber 2011 (Med Sci Sports Exerc 43:1334): 60 s for each exercise on at least 2 days. Thomas
 * 2018 (Int J Sports Med 39:243): at least 5 minutes a week on at least 5 days; 60 s a day on 5
 * days meets it exactly. */
static void beside_the_guidance(void **state)
{
    (void)state;
    MuscleWeek five_days = week(held(1, 2, 30), 1, 5), four_days = week(held(1, 4, 30), 1, 4);
    MuscleWeek short_of = week(held(1, 1, 59), 1, 7), two_days = week(held(1, 2, 30), 1, 2);
    MuscleWeek one_day = week(held(1, 10, 60), 1, 1), split = week(held(1, 1, 30), 2, 5);

    near(five_days.dose.static_s.from, 300, 0);
    assert_int_equal(five_days.acsm, GUIDANCE_MEETS);
    assert_int_equal(five_days.thomas, GUIDANCE_MEETS);
    assert_int_equal(four_days.thomas, GUIDANCE_BELOW); /* 8 minutes, but on 4 days */
    assert_int_equal(short_of.acsm, GUIDANCE_BELOW);
    assert_int_equal(short_of.thomas, GUIDANCE_MEETS); /* 413 s on 7 days */
    near(two_days.dose.static_s.from, 120, 0);
    assert_int_equal(two_days.acsm, GUIDANCE_MEETS);
    assert_int_equal(two_days.thomas, GUIDANCE_BELOW);
    assert_int_equal(one_day.acsm, GUIDANCE_BELOW);
    assert_int_equal(split.acsm, GUIDANCE_MEETS); /* two sessions of 30 s on one day */
}

static void active_repetitions_are_told_in_their_own_terms(void **state)
{
    Dose active = {.work = WORK_ACTIVE,
                   .sets = 3,
                   .repetitions = {10, 10},
                   .hold_s = {2, 2},
                   .rest_s = {60, 60}};
    (void)state;
    MuscleWeek at = week(active, 1, 5);

    near(seconds(active), 60, 0); /* 10 x 2 s is 20 s a set */
    near(at.dose.active_s.to, 300, 0);
    near(at.dose.repetitions.to, 150, 0);
    near(at.dose.static_s.to, 0, 0);
    assert_int_equal(at.acsm, GUIDANCE_NONE);
    assert_int_equal(at.thomas, GUIDANCE_NONE);
}

static void rest_is_not_dose_and_a_skill_is_no_stretch(void **state)
{
    Dose rested = held(2, 4, 30), skill = held(2, 8, 10);
    (void)state;

    rested.rest_s = (Range){600, 600};
    near(seconds(rested), seconds(held(2, 4, 30)), 0);
    skill.work = WORK_SKILL;
    near(seconds(skill), 0, 0);
}

static void same(const MuscleDose *a, const MuscleDose *b)
{
    near(a->repetitions.from, b->repetitions.from, 1e-9);
    near(a->repetitions.to, b->repetitions.to, 1e-9);
    near(a->active_s.from, b->active_s.from, 1e-9);
    near(a->active_s.to, b->active_s.to, 1e-9);
    near(a->static_s.from, b->static_s.from, 1e-9);
    near(a->static_s.to, b->static_s.to, 1e-9);
}

static void random_movement(Movement *movement, GRand *random)
{
    double low = g_rand_int_range(random, 1, 30), hold = g_rand_int_range(random, 1, 60);

    *movement = (Movement){.key = "m", .muscle = g_rand_boolean(random) ? "calf" : "hamstring"};
    movement->dose = (Dose){.work = (Work)g_rand_int_range(random, 0, 2),
                            .sets = g_rand_int_range(random, 1, 5),
                            .repetitions = {low, low + g_rand_int_range(random, 0, 10)},
                            .hold_s = {hold, hold + g_rand_int_range(random, 0, 30)}};
    movement->relaxed.minutes.to = movement->relaxed.minutes.from = g_rand_int_range(random, 0, 3);
}

static MuscleDose dose_of(const Stage *stage, const char *muscle)
{
    MuscleDose doses[DOSE_MUSCLES_MAX];
    int n = stage_dose(stage, NULL, doses);

    for (int i = 0; i < n; i++)
        if (strcmp(doses[i].muscle, muscle) == 0) return doses[i];
    return (MuscleDose){.muscle = muscle};
}

/* The dose of all movements is the sum of the doses of any two parts of them; of m + n sessions the
 * sum of m and n. */
static void dose_is_additive(void **state)
{
    static const char *const MUSCLES[] = {"calf", "hamstring"};
    const guint32 seed = 7;
    GRand *random = g_rand_new_with_seed(seed);
    (void)state;

    print_message("seed %u\n", seed);
    for (int i = 0; i < 2000; i++) {
        Movement movements[STAGE_MOVEMENTS_MAX];
        gpointer list[STAGE_MOVEMENTS_MAX];
        guint n = (guint)g_rand_int_range(random, 1, STAGE_MOVEMENTS_MAX + 1);
        guint cut = (guint)g_rand_int_range(random, 0, (int)n + 1);
        for (guint m = 0; m < n; m++) {
            random_movement(&movements[m], random);
            list[m] = &movements[m];
        }
        GPtrArray all = {.pdata = list, .len = n}, head = {.pdata = list, .len = cut};
        GPtrArray tail = {.pdata = list + cut, .len = n - cut};
        Stage whole = {.movements = &all}, first = {.movements = &head},
              second = {.movements = &tail};
        for (size_t k = 0; k < G_N_ELEMENTS(MUSCLES); k++) {
            MuscleDose sum = dose_of(&whole, MUSCLES[k]), a = dose_of(&first, MUSCLES[k]);
            MuscleDose b = dose_of(&second, MUSCLES[k]), parts = dose_sum(&a, &b);
            same(&sum, &parts);
            int x = g_rand_int_range(random, 0, 20), y = g_rand_int_range(random, 0, 20);
            MuscleDose both = dose_times(&sum, x + y), one = dose_times(&sum, x),
                       other = dose_times(&sum, y);
            MuscleDose added = dose_sum(&one, &other);
            same(&both, &added);
        }
    }
    g_rand_free(random);
}

static void what_was_done_partly_is_a_range(void **state)
{
    MuscleWeek weeks[DOSE_MUSCLES_MAX];
    OneMovement one;
    (void)state;

    one_movement(&one, held(1, 2, 30), 1, 5);
    assert_int_equal(stage_week_done(&one.stage, NULL, 4, 1, 5, weeks), 1);
    near(weeks[0].dose.static_s.from, 240, 0);
    near(weeks[0].dose.static_s.to, 300, 0);
    assert_int_equal(weeks[0].thomas, GUIDANCE_BELOW); /* only perhaps 5 minutes */
    stage_week_done(&one.stage, NULL, 5, 0, 5, weeks);
    assert_int_equal(weeks[0].thomas, GUIDANCE_MEETS);
    stage_week_done(&one.stage, NULL, 0, 0, 0, weeks);
    near(weeks[0].dose.static_s.to, 0, 0);
}

static void a_plan_may_set_its_own_and_says_so(void **state)
{
    const Dose dose = {.work = WORK_ACTIVE, .sets = 2, .repetitions = {15, 20}, .hold_s = {1, 2}};
    const DoseChange none = {.sets = 0}, fewer = {.sets = 1, .repetitions = {8, 10}};
    bool changed = true;
    (void)state;

    dose_changed(&dose, &none, &changed);
    assert_false(changed);
    Dose out = dose_changed(&dose, &fewer, &changed);
    assert_true(changed);
    assert_int_equal(out.sets, 1);
    near(out.repetitions.to, 10, 0);
    near(out.hold_s.to, 2, 0);
}

static void the_hand_out_says_what_is_set_for_the_client(void **state)
{
    const DoseChange fewer = {.sets = 1, .repetitions = {8, 10}};
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    const Movement *movement =
        g_ptr_array_index(programme_stage(programme, "calf-with-strap")->movements, 0);
    g_autofree char *own = movement_text_for(programme, movement, NULL, &fewer, false);
    g_autofree char *usual = movement_text_for(programme, movement, NULL, NULL, false);
    g_autofree char *back = movement_text_for(programme, movement, NULL, NULL, true);

    assert_non_null(
        strstr(back, "1 set of 15 to 20, each held 1 to 2 s (less than before, after time off)."));
    assert_non_null(strstr(own, "1 set of 8 to 10, each held 1 to 2 s (set for you)."));
    assert_null(strstr(usual, "set for you"));
}

static void one_dose_lower_is_a_set_less_and_then_half(void **state)
{
    Dose dose = {.work = WORK_ACTIVE, .sets = 2, .repetitions = {15, 20}, .hold_s = {1, 2}};
    (void)state;

    dose = dose_lower(&dose);
    assert_int_equal(dose.sets, 1);
    near(dose.repetitions.to, 20, 0);
    dose = dose_lower(&dose);
    near(dose.repetitions.from, 8, 0);
    near(dose.repetitions.to, 10, 0);
    for (int i = 0; i < 10; i++)
        dose = dose_lower(&dose);
    near(dose.repetitions.from, 1, 0);
    near(dose.repetitions.to, 1, 0);
}

static void the_lower_hamstring_meets_the_guidance_with_its_relaxed_hold(void **state)
{
    MuscleWeek weeks[DOSE_MUSCLES_MAX];
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    assert_int_equal(stage_week_planned(programme_stage(programme, "lower-hamstring"), NULL, weeks),
                     1);
    assert_string_equal(weeks[0].dose.muscle, "hamstring");
    near(weeks[0].dose.repetitions.from, 100, 0); /* 20 to 30 on 5 days */
    near(weeks[0].dose.repetitions.to, 150, 0);
    near(weeks[0].dose.static_s.from, 300, 0);
    assert_int_equal(weeks[0].thomas, GUIDANCE_MEETS);
    assert_int_equal(stage_week_planned(programme_stage(programme, "hip-hinge"), NULL, weeks), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(doses_that_the_papers_equate),
        cmocka_unit_test(felands_weeks),
        cmocka_unit_test(beside_the_guidance),
        cmocka_unit_test(active_repetitions_are_told_in_their_own_terms),
        cmocka_unit_test(rest_is_not_dose_and_a_skill_is_no_stretch),
        cmocka_unit_test(dose_is_additive),
        cmocka_unit_test(what_was_done_partly_is_a_range),
        cmocka_unit_test(a_plan_may_set_its_own_and_says_so),
        cmocka_unit_test(the_hand_out_says_what_is_set_for_the_client),
        cmocka_unit_test(one_dose_lower_is_a_set_less_and_then_half),
        cmocka_unit_test(the_lower_hamstring_meets_the_guidance_with_its_relaxed_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
