/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/trend.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib.h>
#include <math.h>

#include "core/watch/adherence.h"

static void assert_near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.9f is not %.9f within %g", value, expected, within);
}

/* Sen PK, J Am Stat Assoc 1968;63:1379-1389, the worked example: slope 4, 93 % interval 26/7 to
 * 35/8. */
static const TrendPoint SEN[] = {{1, 9}, {2, 15}, {3, 19}, {4, 20}, {10, 45}, {12, 55}, {18, 78}};

static void sens_example(void **state)
{
    TrendLine line = trend_line(SEN, G_N_ELEMENTS(SEN), Z_93);

    (void)state;
    assert_true(line.has_slope && line.has_interval);
    assert_near(line.slope, 4, 1e-12);
    assert_near(line.intercept, 6, 1e-12);
    assert_near(line.low, 26.0 / 7, 1e-12);
    assert_near(line.high, 35.0 / 8, 1e-12);
}

static void a_higher_level_is_wider(void **state)
{
    TrendLine at_93 = trend_line(SEN, G_N_ELEMENTS(SEN), Z_93);
    TrendLine at_95 = trend_line(SEN, G_N_ELEMENTS(SEN), Z_95);

    (void)state;
    assert_true(at_95.has_interval);
    assert_true(at_95.low <= at_93.low && at_95.high >= at_93.high);
}

static void the_order_of_points_does_not_matter(void **state)
{
    TrendPoint shuffled[G_N_ELEMENTS(SEN)];
    TrendLine line;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SEN); i++)
        shuffled[i] = SEN[(i * 3 + 2) % G_N_ELEMENTS(SEN)];
    line = trend_line(shuffled, G_N_ELEMENTS(SEN), Z_93);
    assert_near(line.slope, 4, 1e-12);
    assert_near(line.low, 26.0 / 7, 1e-12);
}

static void one_wild_reading_does_not_bend_the_line(void **state)
{
    TrendPoint points[21];
    TrendLine line;

    (void)state;
    for (int i = 0; i < 21; i++)
        points[i] = (TrendPoint){i, 50 + 0.5 * i};
    points[20].y = 500;
    points[3].y = 0;
    line = trend_line(points, 21, Z_95);
    assert_near(line.slope, 0.5, 1e-9);
    assert_true(line.low <= 0.5 && line.high >= 0.5);
}

static void few_points(void **state)
{
    const TrendPoint three[] = {{0, 0}, {1, 1}, {2, 1}};
    TrendLine line = trend_line(three, 3, Z_95);

    (void)state;
    assert_true(line.has_slope);
    assert_near(line.slope, 0.5, 1e-15);
    assert_false(line.has_interval);
    assert_false(trend_line(three, 1, Z_95).has_slope);
    assert_false(trend_line(three, 0, Z_95).has_slope);
    assert_true(trend_line(three, 2, Z_95).has_slope);
}

/* Readings of one day say nothing of a direction: that is no slope, which is not a slope of 0. */
static void all_on_one_day_has_no_slope(void **state)
{
    const TrendPoint same[] = {{5, 60}, {5, 64}, {5, 71}};

    (void)state;
    assert_false(trend_line(same, 3, Z_95).has_slope);
    assert_false(trend_line(same, 3, Z_95).has_interval);
}

/* Two readings on each of five days: 45 pairs less 5 within a day leave 40 slopes, and the variance of S, corrected, is
 * (10 * 9 * 25 - 5 * 2 * 1 * 9) / 18 = 120. */
static void days_with_two_readings(void **state)
{
    TrendPoint points[10];
    TrendLine line;

    (void)state;
    for (int i = 0; i < 10; i++)
        points[i] = (TrendPoint){i / 2, 3 * (i / 2) + (i % 2 == 0 ? -1 : 1)};
    line = trend_line(points, 10, Z_95);
    assert_near(line.slope, 3, 1e-12);
    /* Ranks floor((40 - 21.47) / 2) = 9 and its mirror 32; in order the slopes begin 1 1 1 1 2 2 2 7/3 7/3 5/2. */
    assert_true(line.has_interval);
    assert_near(line.low, 7.0 / 3, 1e-12);
    assert_near(line.high, 11.0 / 3, 1e-12);
}

static void of_very_many_points_the_last_count(void **state)
{
    g_autofree TrendPoint *points = g_new(TrendPoint, TREND_POINTS_MAX + 500);

    (void)state;
    for (int i = 0; i < TREND_POINTS_MAX + 500; i++)
        points[i] = (TrendPoint){i, i < 500 ? -9.0 * i : 2.0 * i};
    assert_near(trend_line(points, TREND_POINTS_MAX + 500, Z_95).slope, 2, 1e-9);
}

/* NIST/SEMATECH e-Handbook 6.3.2.4: the worked example. */
static const double NIST[] = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                              49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
static const Ewma NIST_CHART = {.lambda = 0.3, .target = 50, .sigma = 2.0539, .width = 3};

static void the_handbooks_averages(void **state)
{
    static const double EXPECTED[] = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75,
                                      49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
                                      49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
    double average = NIST_CHART.target;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(NIST); i++) {
        average = ewma_next(&NIST_CHART, average, NIST[i]);
        assert_near(average, EXPECTED[i], 0.00501);
        assert_int_equal(ewma_direction(&NIST_CHART, NIST, (int)i + 1, NULL), TREND_STEADY);
    }
    double last;
    ewma_direction(&NIST_CHART, NIST, G_N_ELEMENTS(NIST), &last);
    assert_near(last, average, 1e-12);
}

/* The printed limits use a factor of four digits, hence the width of the comparison. */
static void the_handbooks_limits(void **state)
{
    (void)state;
    assert_near(50 + ewma_reach(&NIST_CHART, 0), 52.5884, 0.001);
    assert_near(50 - ewma_reach(&NIST_CHART, 0), 47.4115, 0.001);
    assert_near(50 + ewma_reach(&NIST_CHART, 0), 52.58843, 0.00001);
    /* Worked out from the formula of the same page. */
    assert_near(50 + ewma_reach(&NIST_CHART, 1), 51.8485, 0.0001);
    assert_near(50 + ewma_reach(&NIST_CHART, 2), 52.2564, 0.0001);
    assert_near(50 + ewma_reach(&NIST_CHART, 3), 52.4314, 0.0001);
    assert_near(50 + ewma_reach(&NIST_CHART, 5), 52.5516, 0.0001);
    assert_near(50 + ewma_reach(&NIST_CHART, 10), 52.5874, 0.0001);
}

static void pain_that_climbs_and_falls(void **state)
{
    const Ewma pain = {.lambda = 0.3, .target = 2, .sigma = 1, .width = 2};
    const double climbing[] = {2, 3, 3, 4, 5, 5};
    const double falling[] = {2, 1, 0, 0, 0, 0};
    const double one_bad_day[] = {2, 2, 5, 2, 2, 2};

    (void)state;
    assert_int_equal(ewma_direction(&pain, climbing, 6, NULL), TREND_RISING);
    assert_int_equal(ewma_direction(&pain, falling, 6, NULL), TREND_FALLING);
    assert_int_equal(ewma_direction(&pain, one_bad_day, 6, NULL), TREND_STEADY);
    assert_int_equal(ewma_direction(&pain, NULL, 0, NULL), TREND_STEADY);
    assert_string_equal(trend_direction_name(TREND_STEADY), "steady");
    assert_string_equal(trend_direction_name(TREND_RISING), "rising");
    assert_string_equal(trend_direction_name(TREND_FALLING), "falling");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sens_example),
        cmocka_unit_test(a_higher_level_is_wider),
        cmocka_unit_test(the_order_of_points_does_not_matter),
        cmocka_unit_test(one_wild_reading_does_not_bend_the_line),
        cmocka_unit_test(few_points),
        cmocka_unit_test(all_on_one_day_has_no_slope),
        cmocka_unit_test(days_with_two_readings),
        cmocka_unit_test(of_very_many_points_the_last_count),
        cmocka_unit_test(the_handbooks_averages),
        cmocka_unit_test(the_handbooks_limits),
        cmocka_unit_test(pain_that_climbs_and_falls),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
