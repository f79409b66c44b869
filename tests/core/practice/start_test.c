/* SPDX-License-Identifier: Apache-2.0 */
/* Where a client begins, and when the clinician is first. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/start.h"
#include "tests/support/near.h"
#include "tests/support/programmes.h"

/* One client: what was measured, felt and found, and where that leads. NULL stage: the clinician
 * first. */
typedef struct {
    double angle_deg;
    const char *felt;
    bool no_floor;
    const char *finding;
    const char *stage;
    const char *setup;
} Row;

static StartAnswer start_of(const Programme *programme, const Row *row)
{
    const char *findings[] = {row->finding};
    const StartAsk ask = {.screen = {.floor = !row->no_floor,
                                     .findings = findings,
                                     .n_findings = row->finding != NULL},
                          .angle_deg = row->angle_deg,
                          .felt = row->felt,
                          .leg_cm = 85};
    StartAnswer answer;

    start_find(programme, &ask, &answer);
    return answer;
}

static void where_each_client_begins(void **state)
{
    static const Row ROWS[] = {
        {62, "thigh", false, NULL, "lower-hamstring", "door-frame"},
        {59.9, "thigh", false, NULL, "lower-hamstring", "ball"},
        {60, "knee", false, NULL, "lower-hamstring", "door-frame"},
        {89, "knee", false, NULL, "lower-hamstring", "door-frame"},
        {90, "thigh", false, NULL, "upkeep", "strap-floor"},
        {110, NULL, false, NULL, "upkeep", "strap-floor"},
        {70, "sit-bone", false, NULL, "upper-hamstring", "door-frame"},
        {50, "sit-bone", false, NULL, "lower-hamstring", "ball"},
        {62, NULL, false, NULL, "lower-hamstring", "door-frame"},
        {62, "calf", false, NULL, "ankle-pumping", "bare-bed"},
        {95, "calf", false, NULL, "ankle-pumping", "bare-bed"},
        {-1, "calf", false, NULL, "ankle-pumping", "bare-bed"},
        {-1, NULL, false, NULL, "ankle-pumping", "bare-bed"},
        {-1, "electric", false, NULL, NULL, NULL},
        {80, "electric", false, NULL, NULL, NULL},
        {45, "thigh", false, NULL, NULL, NULL},
        {40, "calf", false, NULL, NULL, NULL},
        {45.1, "thigh", false, NULL, "lower-hamstring", "ball"},
        {62, "thigh", true, NULL, "lower-hamstring", "strap-bed"},
        {50, "thigh", true, NULL, "lower-hamstring", "strap-bed"},
        {90, "thigh", true, NULL, "upkeep", "strap-bed"},
        {62, "thigh", false, "dizziness", "lower-hamstring", "strap-bed"},
        {62, "thigh", false, "gets dizzy when lying down", "lower-hamstring", "strap-bed"},
        {62, "thigh", false, "Warfarin", "lower-hamstring", "door-frame"},
        {62, "thigh", false, "two falls last winter", "lower-hamstring", "door-frame"},
        {62, "thigh", false, "recent-fracture", NULL, NULL},
        {62, "thigh", false, "Fractured T8 in September", NULL, NULL},
        {62, "thigh", false, "DVT 2011", NULL, NULL},
        {62, "thigh", false, "left hip replacement", NULL, NULL},
        {62, "thigh", false, "Sciatica", NULL, NULL},
        {62, "thigh", false, "something nobody foresaw", NULL, NULL},
        {62, "thigh", false, "", NULL, NULL},
    };
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        StartAnswer answer = start_of(programme, &ROWS[i]);
        const char *stage = answer.stage != NULL ? answer.stage->key : NULL;
        const char *setup = answer.setup != NULL ? answer.setup->key : NULL;
        if (g_strcmp0(stage, ROWS[i].stage) != 0 || g_strcmp0(setup, ROWS[i].setup) != 0)
            fail_msg("row %zu: %s in %s", i, stage, setup);
        assert_true(answer.reasons.n > 0);
    }
}

/* Nobody who cannot get up from the floor is ever given a set-up on it, whatever the angle and
 * wherever it is felt. */
static void no_floor_is_never_given_the_floor(void **state)
{
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    for (double angle = -1; angle <= 120; angle += 0.5)
        for (int felt = 0; FELT_PLACES[felt] != NULL; felt++) {
            const Row row = {.angle_deg = angle, .felt = FELT_PLACES[felt], .no_floor = true};
            StartAnswer answer = start_of(programme, &row);
            assert_true(answer.setup == NULL || answer.setup->place != PLACE_FLOOR);
        }
}

/* Common practice: near 80 degrees, about 15 to 20 cm from the frame. */
static void it_says_where_to_lie(void **state)
{
    const Row row = {.angle_deg = 80, .felt = "thigh"}, low = {.angle_deg = 50, .felt = "thigh"};
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    StartAnswer answer = start_of(programme, &row);

    assert_true(answer.laid);
    assert_true(answer.lay.reach_cm >= 15 && answer.lay.reach_cm <= 20);
    near(answer.lay.angle_deg, 78, 1e-9);
    answer = start_of(programme, &low);
    assert_true(answer.laid);
    assert_int_equal(answer.lay.kind, GEOMETRY_BALL);
    assert_true(answer.lay.angle_deg < 50);
    json_t *document = start_json(&answer);
    assert_string_equal(json_string_value(json_object_get(document, "set_up")), "ball");
    assert_true(json_is_number(json_object_get(json_object_get(document, "start_at"), "ball_cm")));
    json_decref(document);
}

static void who_fell_begins_balance_with_a_clinician(void **state)
{
    const Row fell = {.angle_deg = -1, .finding = "fell in the garden in May"},
              fine = {.angle_deg = -1};
    (void)state;
    g_autoptr(Programme) programme =
        programme_shipped("config/programmes/steady-at-the-worktop.yaml");
    StartAnswer answer = start_of(programme, &fell);

    assert_null(answer.stage);
    answer = start_of(programme, &fine);
    assert_string_equal(answer.stage->key, "feet-together");
    assert_string_equal(answer.setup->key, "worktop");
}

static const Reason *reason(const Reasons *reasons, const char *rule)
{
    for (int i = 0; i < reasons->n; i++)
        if (strcmp(reasons->items[i].rule, rule) == 0) return &reasons->items[i];
    fail_msg("no reason named %s", rule);
    return NULL;
}

/* Dizziness is a caution at the start of this programme, and rules out what is done at the frame. */
static void a_stage_that_the_screen_rules_out_is_for_the_clinician(void **state)
{
    const Row dizzy = {.angle_deg = -1, .finding = "dizzy at times"}, fine = {.angle_deg = -1};
    (void)state;
    g_autoptr(Programme) programme = programme_shipped("config/programmes/tall-and-open.yaml");

    programme->start.first = "chest-at-the-frame";
    StartAnswer answer = start_of(programme, &fine);
    assert_string_equal(answer.stage->key, "chest-at-the-frame");
    answer = start_of(programme, &dizzy);
    assert_null(answer.stage);
    assert_null(answer.setup);
    const Reason *why =
        reason(&answer.reasons, "stage ruled out by the screen: the clinician first");
    assert_string_equal(why->value_words, "chest-at-the-frame");
    json_t *document = start_json(&answer);
    assert_true(json_is_null(json_object_get(document, "stage")));
    assert_true(json_is_null(json_object_get(document, "set_up")));
    assert_true(json_is_true(json_object_get(document, "clinician_first")));
    assert_null(json_object_get(document, "start_at"));
    json_decref(document);
}

static void a_stage_without_a_set_up_for_this_client_is_ruled_out(void **state)
{
    const char *findings[] = {"dizzy at times"};
    const ScreenFound dizzy = {true, findings, 1}, no_floor = {.floor = false};
    const char *because = NULL;
    (void)state;
    g_autoptr(Programme) programme = programme_shipped("config/programmes/tall-and-open.yaml");
    Stage stage = *programme_stage(programme, "chest-at-the-frame");

    stage.not_for = NULL;
    assert_false(stage_allowed(programme, &stage, &dizzy, &because));
    assert_string_equal(because, "a movement of this stage has no set-up that this client may use");
    assert_true(stage_allowed(programme, &stage, &no_floor, &because));
    g_autoptr(GPtrArray) not_for = g_ptr_array_new();
    g_ptr_array_add(not_for, (void *)FINDING_NO_FLOOR);
    stage.not_for = not_for;
    assert_false(stage_allowed(programme, &stage, &no_floor, &because));
    assert_non_null(strstr(because, "bed or chair only"));
}

static void a_word_inside_another_is_no_finding(void **state)
{
    const Finding *found[8];
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    assert_int_equal(findings_in(programme, "fond of waterfalls", found, 8), 0);
    assert_int_equal(findings_in(programme, "Falls, blood thinners", found, 8), 2);
    assert_int_equal(findings_in(programme, "\xff\xfe", found, 8), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_each_client_begins),
        cmocka_unit_test(no_floor_is_never_given_the_floor),
        cmocka_unit_test(it_says_where_to_lie),
        cmocka_unit_test(who_fell_begins_balance_with_a_clinician),
        cmocka_unit_test(a_stage_that_the_screen_rules_out_is_for_the_clinician),
        cmocka_unit_test(a_stage_without_a_set_up_for_this_client_is_ruled_out),
        cmocka_unit_test(a_word_inside_another_is_no_finding),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
