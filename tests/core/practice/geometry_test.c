/* SPDX-License-Identifier: Apache-2.0 */
/* Where to lie. No published table of doorway distance against hip angle is known; the tables here
 * are the trigonometry worked out a second time, by hand calculator and to one decimal. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/geometry.h"
#include "tests/support/near.h"

static double angle(GeometryKind kind, double leg, double hip, double reach)
{
    Refusal refusal = {0};
    Lay lay;

    if (!lay_from_reach(kind, leg, hip, reach, &lay, &refusal))
        fail_msg("%s %g: %s", refusal.what, refusal.value, refusal.why);
    return lay.angle_deg;
}

static double reach(GeometryKind kind, double leg, double hip, double degrees)
{
    Refusal refusal = {0};
    Lay lay;

    if (!lay_from_angle(kind, leg, hip, degrees, &lay, &refusal))
        fail_msg("%s %g: %s", refusal.what, refusal.value, refusal.why);
    return lay.reach_cm;
}

static void door_frame_distance_gives_angle(void **state)
{
    static const double LEGS[] = {80, 85, 90, 95};
    static const double ROWS[][5] = {
        {0, 90.0, 90.0, 90.0, 90.0},  {10, 82.8, 83.2, 83.6, 84.0}, {20, 75.5, 76.4, 77.2, 77.8},
        {30, 68.0, 69.3, 70.5, 71.6}, {40, 60.0, 61.9, 63.6, 65.1}, {50, 51.3, 54.0, 56.3, 58.2},
        {60, 41.4, 45.1, 48.2, 50.8}, {70, 29.0, 34.6, 38.9, 42.5},
    };
    (void)state;

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++)
        for (size_t leg = 0; leg < G_N_ELEMENTS(LEGS); leg++)
            near(angle(GEOMETRY_DOOR, LEGS[leg], 0, ROWS[i][0]), ROWS[i][leg + 1], 0.051);
}

static void angle_gives_door_frame_distance(void **state)
{
    static const double LONG[][2] = {{30, 77.9}, {45, 63.6}, {60, 45.0}, {70, 30.8}, {80, 15.6}};
    static const double SHORT[][2] = {{30, 69.3}, {45, 56.6}, {60, 40.0}, {70, 27.4}, {80, 13.9}};
    (void)state;

    for (size_t i = 0; i < G_N_ELEMENTS(LONG); i++) {
        near(reach(GEOMETRY_DOOR, 90, 0, LONG[i][0]), LONG[i][1], 0.051);
        near(reach(GEOMETRY_DOOR, 80, 0, SHORT[i][0]), SHORT[i][1], 0.051);
    }
    near(reach(GEOMETRY_DOOR, 85, 0, 70), 29.1, 0.05);
    assert_true(reach(GEOMETRY_DOOR, 85, 0, 90) == 0);
}

static void balls_of_three_sizes(void **state)
{
    static const double ROWS[][3] = {{55, 32.0, 40.3}, {65, 40.3, 49.9}, {75, 49.9, 61.9}};
    (void)state;

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        near(angle(GEOMETRY_BALL, 85, 10, ROWS[i][0]), ROWS[i][1], 0.051);
        near(angle(GEOMETRY_BALL, 85, 0, ROWS[i][0]), ROWS[i][2], 0.051);
    }
    near(angle(GEOMETRY_HEEL, 85, 0, 60), 44.9, 0.051);
}

static void a_centimetre_is_worth_more_the_nearer_the_floor(void **state)
{
    Refusal refusal;
    Lay lay;
    (void)state;

    assert_true(lay_from_reach(GEOMETRY_DOOR, 90, 0, 30, &lay, &refusal));
    near(lay.deg_per_cm, 0.675, 0.0005);
    assert_true(lay_from_reach(GEOMETRY_DOOR, 85, 0, 40, &lay, &refusal));
    near(lay.deg_per_cm, 0.764, 0.0005);
    assert_true(lay_from_reach(GEOMETRY_DOOR, 85, 0, 85, &lay, &refusal));
    assert_true(isinf(lay.deg_per_cm));
    assert_true(lay_from_reach(GEOMETRY_HEEL, 85, 0, 85, &lay, &refusal));
    assert_true(isinf(lay.deg_per_cm));
}

/* Drillis and Contini 1966 as drawn in Winter: hip 0.530 of stature above the floor, so 90.10 cm at
 * 170 cm. */
static void leg_from_stature_is_drillis_and_contini(void **state)
{
    Refusal refusal;
    double leg = 0;
    (void)state;

    assert_true(leg_from_stature(170, &leg, &refusal));
    near(leg, 90.10, 1e-9);
    near(LEG_PER_STATURE, 0.245 + 0.246 + 0.039, 1e-12);
    assert_false(leg_from_stature(99, &leg, &refusal));
    assert_false(leg_from_stature(NAN, &leg, &refusal));
    assert_string_equal(refusal.what, "stature");
}

/* Over the whole range: from angle to reach and back is the same angle; from reach to angle and
 * back the same reach. */
static void there_and_back_is_the_identity(void **state)
{
    static const GeometryKind KINDS[] = {GEOMETRY_DOOR, GEOMETRY_HEEL};
    (void)state;

    for (size_t k = 0; k < G_N_ELEMENTS(KINDS); k++)
        for (double leg = LEG_CM_MIN; leg <= LEG_CM_MAX; leg += 4.5) {
            for (double degrees = 0; degrees <= 90; degrees += 0.5)
                near(angle(KINDS[k], leg, 0, reach(KINDS[k], leg, 0, degrees)), degrees, 1e-5);
            for (double cm = 0; cm <= leg; cm += leg / 64)
                near(reach(KINDS[k], leg, 0, angle(KINDS[k], leg, 0, cm)), cm, 1e-9);
        }
    for (double leg = 70; leg <= 100; leg += 2.5)
        for (double cm = BALL_CM_MIN; cm <= 80; cm += 0.5)
            near(reach(GEOMETRY_BALL, leg, 10, angle(GEOMETRY_BALL, leg, 10, cm)), cm, 1e-9);
}

static void what_cannot_be_is_refused(void **state)
{
    static const struct {
        GeometryKind kind;
        double leg, hip, reach;
        const char *what;
    } ROWS[] = {
        {GEOMETRY_DOOR, 85, 0, 85.1, "distance"}, {GEOMETRY_DOOR, 85, 0, -0.1, "distance"},
        {GEOMETRY_DOOR, 85, 0, NAN, "distance"},  {GEOMETRY_DOOR, 20, 0, 10, "leg"},
        {GEOMETRY_DOOR, INFINITY, 0, 10, "leg"},  {GEOMETRY_HEEL, 85, 0, 86, "height"},
        {GEOMETRY_HEEL, 85, 0, -1, "height"},     {GEOMETRY_BALL, 85, 40, 30, "ball"},
        {GEOMETRY_BALL, 85, 10, 300, "ball"},     {GEOMETRY_BALL, 50, 0, 60, "ball"},
        {GEOMETRY_BALL, 85, -1, 65, "hip"},       {GEOMETRY_BALL, 85, NAN, 65, "hip"},
    };
    (void)state;

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        Refusal refusal = {0};
        Lay lay;
        assert_false(
            lay_from_reach(ROWS[i].kind, ROWS[i].leg, ROWS[i].hip, ROWS[i].reach, &lay, &refusal));
        assert_string_equal(refusal.what, ROWS[i].what);
        assert_true(strlen(refusal.why) > 10);
    }
    Refusal refusal = {0};
    Lay lay;
    assert_false(lay_from_angle(GEOMETRY_DOOR, 85, 0, 90.5, &lay, &refusal));
    assert_false(lay_from_angle(GEOMETRY_DOOR, 85, 0, -1, &lay, &refusal));
    assert_false(lay_from_angle(GEOMETRY_BALL, 130, 40, 80, &lay, &refusal));
}

/* Common practice: somebody near 80 degrees starts about 15 to 20 cm from the frame. */
static void near_eighty_degrees_starts_fifteen_to_twenty_centimetres_away(void **state)
{
    const Setup door = {.geometry = GEOMETRY_DOOR, .margin_deg = 2, .reach = {0, 75}};
    (void)state;

    for (double leg = 75; leg <= 95; leg++) {
        Refusal refusal;
        Lay lay;
        assert_true(lay_start(&door, leg, 80, &lay, &refusal));
        assert_in_range((unsigned)lround(lay.reach_cm), 15, 20);
        assert_true(lay.angle_deg < 80);
    }
}

static void a_set_up_that_does_not_get_low_enough_is_refused(void **state)
{
    const Setup ball = {
        .geometry = GEOMETRY_BALL, .margin_deg = 2, .reach = {45, 75}, .hip_cm = 10};
    Refusal refusal;
    Lay lay;
    (void)state;

    assert_false(lay_start(&ball, 85, 20, &lay, &refusal)); /* needs a smaller ball than there is */
    assert_true(
        lay_start(&ball, 85, 85, &lay, &refusal)); /* the largest ball: gentler than asked for */
    near(lay.reach_cm, 75, 1e-9);
    assert_true(lay.angle_deg < 83);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(door_frame_distance_gives_angle),
        cmocka_unit_test(angle_gives_door_frame_distance),
        cmocka_unit_test(balls_of_three_sizes),
        cmocka_unit_test(a_centimetre_is_worth_more_the_nearer_the_floor),
        cmocka_unit_test(leg_from_stature_is_drillis_and_contini),
        cmocka_unit_test(there_and_back_is_the_identity),
        cmocka_unit_test(what_cannot_be_is_refused),
        cmocka_unit_test(near_eighty_degrees_starts_fifteen_to_twenty_centimetres_away),
        cmocka_unit_test(a_set_up_that_does_not_get_low_enough_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
