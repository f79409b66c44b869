/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/paper/words.h"
#include "core/talk/wording.h"
#include "tests/support/language.h"
#include "tests/support/near.h"
#include "tests/support/programmes.h"

static const char *const LANGUAGES[] = {"en", "es", "fr"};

typedef struct {
    Pack *pack;
    Programme *programme;
} House;

static int build(void **state)
{
    House *house = g_new0(House, 1);

    house->pack = language_pack("en");
    house->programme = programme_shipped(CALF_AND_HAMSTRING);
    *state = house;
    return 0;
}

static int clear(void **state)
{
    House *house = *state;

    pack_free(house->pack);
    programme_free(house->programme);
    g_free(house);
    return 0;
}

static Picture *picture(const House *house, const char *stage, const char *setup, double leg,
                        double angle)
{
    const Stage *at = programme_stage(house->programme, stage);

    return picture_of_setup(house->pack,
                            &(SetupAsk){.movement = at->movements->pdata[0],
                                        .setup = programme_setup(house->programme, setup),
                                        .leg_cm = leg,
                                        .angle_deg = angle});
}

/* cos 70 degrees = 0.34202 (any table): a leg of 85 cm lies 29.07 cm from the frame, and in whole
 * centimetres, to the gentler side, 30: acos(30/85) = 69.33 degrees. */
static void the_door_frame_by_the_cosine(void **state)
{
    g_autoptr(Picture) drawn = picture(*state, "lower-hamstring", "door-frame", 85, 72);

    assert_true(drawn->setup->measured);
    assert_string_equal(drawn->setup->reach, "30 cm");
    assert_string_equal(drawn->setup->angle, "69°");
    near(drawn->setup->lay.angle_deg, 69.33, 0.01);
    assert_string_equal(drawn->alt, "Lying on the back in an open doorway, one heel up against the "
                                    "frame, the other knee bent. The hip lies 30 cm from the "
                                    "frame; the leg is up at 69°.");
}

/* sin 44 degrees = 0.69466: 85 cm give 59.05, rounded down. */
static void cushions_by_the_sine(void **state)
{
    g_autoptr(Picture) drawn = picture(*state, "lower-hamstring", "bolster-bed", 85, 46);

    assert_string_equal(drawn->setup->reach, "59 cm");
    assert_string_equal(drawn->setup->angle, "44°");
}

static void no_numbers_where_nothing_is_known(void **state)
{
    static const struct {
        double leg, angle;
    } UNKNOWN[] = {{0, 70}, {85, -1}, {0, -1}, {20, 70}};

    for (size_t i = 0; i < G_N_ELEMENTS(UNKNOWN); i++) {
        g_autoptr(Picture) drawn =
            picture(*state, "lower-hamstring", "door-frame", UNKNOWN[i].leg, UNKNOWN[i].angle);
        assert_false(drawn->setup->measured);
        assert_null(drawn->setup->reach);
        assert_null(drawn->setup->angle);
        assert_null(strpbrk(drawn->alt, "0123456789"));
    }
}

/* A calf is stretched with the leg at rest, whatever its leg raise is. */
static void a_resting_leg_has_no_angle(void **state)
{
    g_autoptr(Picture) drawn = picture(*state, "calf-with-strap", "strap-bed", 85, 70);

    assert_true(drawn->setup->strap);
    assert_null(drawn->setup->angle);
    near(drawn->setup->lay.angle_deg, 0, 1e-9);
}

static void standing_is_not_drawn(void **state)
{
    assert_null(picture(*state, "hip-hinge", "wall", 85, 70));
    assert_null(picture(*state, "hip-hinge", NULL, 85, 70));
}

/* Feet on the floor, or knees bent on the bed: a figure with a straight leg would show something else than the words. And
 * whatever has geometry is drawn, in every programme that is shipped. */
static void only_what_the_words_say_is_drawn(void **state)
{
    static const char *const SHIPPED[] = {CALF_AND_HAMSTRING,
                                          "config/programmes/steady-at-the-worktop.yaml",
                                          "config/programmes/tall-and-open.yaml"};
    const House *house = *state;
    int drawn = 0, geometries = 0;

    for (size_t i = 0; i < G_N_ELEMENTS(SHIPPED); i++) {
        g_autoptr(Programme) programme = programme_shipped(SHIPPED[i]);
        for (guint s = 0; s < programme->stages->len; s++) {
            const Stage *stage = programme->stages->pdata[s];
            for (guint m = 0; m < stage->movements->len; m++) {
                const Movement *movement = stage->movements->pdata[m];
                for (guint u = 0; u < movement->setups->len; u++) {
                    const Setup *setup = movement->setups->pdata[u];
                    g_autoptr(Picture) shown = picture_of_setup(
                        house->pack,
                        &(SetupAsk){
                            .movement = movement, .setup = setup, .leg_cm = 85, .angle_deg = 62});
                    drawn += shown != NULL;
                    geometries += setup->geometry != GEOMETRY_NONE;
                    if (setup->geometry != GEOMETRY_NONE) assert_true(shown->setup->measured);
                    if (strstr(setup->how, "both feet on the floor") != NULL ||
                        strstr(setup->how, "knees bent") != NULL)
                        assert_null(shown);
                }
            }
        }
    }
    assert_int_equal(geometries, 5); /* three ways of the lower hamstring, the frame twice again */
    assert_int_equal(drawn, 15);     /* and straps, and the bed under a resting leg */
}

/* Any leg and angle that can be entered gives a drawing, and never a steeper one than measured. */
static void never_steeper_than_measured(void **state)
{
    static const char *const SETUPS[] = {"door-frame", "ball", "bolster-bed", "strap-floor"};

    for (double leg = LEG_CM_MIN; leg <= LEG_CM_MAX; leg += 7)
        for (double angle = 0; angle <= 120; angle += 4)
            for (size_t i = 0; i < G_N_ELEMENTS(SETUPS); i++) {
                g_autoptr(Picture) drawn =
                    picture(*state, "lower-hamstring", SETUPS[i], leg, angle);
                assert_non_null(drawn);
                if (drawn->setup->measured)
                    assert_true(drawn->setup->lay.angle_deg <= MAX(0, angle - 2) + 1e-6);
            }
}

static void a_long_course_is_told_by_week(void **state)
{
    const House *house = *state;
    g_autofree CourseSession *sessions = g_new0(CourseSession, 728);

    for (int i = 0; i < 728; i++)
        sessions[i] = (CourseSession){
            .day = 20514 + i, .state = "done", .intensity = i % 7, .pain = i % 7 == 3 ? 4 : 0};
    g_autoptr(Picture) drawn = picture_of_course(house->pack, &(CourseAsk){.from = 20514,
                                                                           .to = 20514 + 727,
                                                                           .sessions = sessions,
                                                                           .n_sessions = 728,
                                                                           .goal = {-1, -1}});
    const CourseDrawing *course = drawn->course;
    assert_int_equal(course->weeks->len, 104);
    assert_int_equal(course->points->len, 104);
    for (guint i = 0; i < course->points->len; i++) {
        near(g_array_index(course->points, CoursePoint, i).intensity, 3, 1e-9);
        near(g_array_index(course->points, CoursePoint, i).pain, 4, 1e-9);
        assert_int_equal(g_array_index(course->weeks, CourseWeek, i).counts.done, 7);
    }
    assert_string_equal(drawn->alt, "728 of 728 done; stretch 3; pain up to 4.");
}

/* 2026-03-16 and 2026-08-01; the months of each language are from memory. */
static void dates_and_doses_in_each_language(void **state)
{
    static const char *const DAYS[] = {"16 March 2026", "16 de marzo de 2026", "16 mars 2026"};
    static const char *const SHORT[] = {"1\u00a0Aug", "1\u00a0ago", "1\u00a0août"};
    const Dose dose = {.each_side = true,
                       .sets = 2,
                       .repetitions = {15, 20},
                       .hold_s = {1, 2},
                       .rest_s = {30, 60}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(LANGUAGES); i++) {
        g_autoptr(Pack) pack = language_pack(LANGUAGES[i]);
        g_autofree char *day = wording_day(pack, 20528);
        g_autofree char *brief = wording_day_short(pack, 20666, false);
        g_autofree char *words = paper_dose(pack, &dose, NULL);
        assert_string_equal(day, DAYS[i]);
        assert_string_equal(brief, SHORT[i]);
        assert_non_null(strstr(words, "15"));
    }
    g_autoptr(Pack) en = language_pack("en");
    g_autofree char *words =
        paper_dose(en, &dose, &(Relaxed){.minutes = {1, 2}, .intensity = {4, 5}});
    assert_string_equal(words, "One side, then the other. 2 rounds of 15 to 20 times. Hold each "
                               "for 1 to 2 seconds. Rest 30 to 60 seconds between rounds. Then "
                               "rest in the stretch for 1 to 2 minutes. It should feel like 4 to 5 "
                               "out of 10.");
}

static void numbers_to_be_rung_are_grouped(void **state)
{
    static const char *const PAIRS[][2] = {
        {"+442079460100", "+44\u00a020\u00a07946\u00a00100"},
        {"+15550100199", "+1\u00a0555\u00a0010\u00a00199"},
        {"+33199000123", "+33\u00a01\u00a099\u00a000\u00a001\u00a023"},
        {"+34900000123", "+34\u00a0900\u00a0000\u00a0123"},
        {"+525550120100", "+52\u00a055\u00a05012\u00a00100"},
        {"+522220120100", "+52\u00a0222\u00a0012\u00a00100"},
        {"+4930555010", "+49\u00a0305\u00a0550\u00a010"},
        {"+35312345678", "+353\u00a0123\u00a0456\u00a078"},
        {"+442", "+442"},
        {"999", "999"},
        {"OSIER", "OSIER"}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(PAIRS); i++) {
        g_autofree char *shown = wording_phone(PAIRS[i][0]);
        assert_string_equal(shown, PAIRS[i][1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_door_frame_by_the_cosine),
        cmocka_unit_test(cushions_by_the_sine),
        cmocka_unit_test(no_numbers_where_nothing_is_known),
        cmocka_unit_test(a_resting_leg_has_no_angle),
        cmocka_unit_test(standing_is_not_drawn),
        cmocka_unit_test(only_what_the_words_say_is_drawn),
        cmocka_unit_test(never_steeper_than_measured),
        cmocka_unit_test(a_long_course_is_told_by_week),
        cmocka_unit_test(dates_and_doses_in_each_language),
        cmocka_unit_test(numbers_to_be_rung_are_grouped),
    };
    return cmocka_run_group_tests(tests, build, clear);
}
