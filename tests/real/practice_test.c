/* SPDX-License-Identifier: Apache-2.0 */
/* The practice by the real programs: where a plan begins, who may move on, and what a fresh screen does to a plan. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define PLAN "plan set %s --programme calf-and-hamstring --at 08:30 "
#define BY "--by 'R. Okafor'"

static bool holds(const char *text, const char *part)
{
    if (strstr(text, part) != NULL) return true;
    print_message("no '%s' in %s\n", part, text);
    return false;
}

/* The answer as text; the document is given up (g_free). */
static char *as_text(json_t *document)
{
    char *text = json_dumps(document, JSON_COMPACT);

    json_decref(document);
    return text;
}

static char *open_alert(Solo *clinic, const char *kind, const char *words)
{
    json_t *alert = site_ask(clinic->site, "alert open %s --kind %s --words '%s' " BY, clinic->ada,
                             kind, words);
    char *id = look_copy(alert, "alert");

    json_decref(alert);
    return id;
}

static void close_alert(Solo *clinic, const char *alert)
{
    json_decref(site_ask(clinic->site, "alert close %s --outcome resume " BY, alert));
}

/* The number of sessions that the plan has in the week from a date. */
static size_t in_the_week(Solo *clinic, const char *from)
{
    json_t *sessions = site_ask(clinic->site, "sessions %s --from %s --days 7", clinic->ada, from);
    size_t n = json_array_size(sessions);

    json_decref(sessions);
    return n;
}

/* --- moving on --- */

static void nobody_moves_on_over_an_open_alert(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_decref(
        site_ask(site, "alert open %s --kind strong-stretch --words 'an 8' " BY, clinic.ada));
    json_t *list = site_ask(site, "alerts");
    g_autofree char *alert = look_copy(json_array_get(list, 0), "alert");
    json_decref(list);
    /* No hold, and still: neither by a move nor by setting the plan anew. */
    site_fails(site, 77, "open alert", "plan move %s --stage upper-hamstring " BY, clinic.ada);
    site_fails(site, 77, "open alert", PLAN "--stage upper-hamstring", clinic.ada);
    site_fails(site, 65, "which has ankle-pumping, ", "plan move %s --stage upper " BY, clinic.ada);
    site_fails(site, 66, "osier client list shows them", "plan move NOBODY22 --stage upper " BY);
    site_fails(site, 64, "must be one of away, ",
               "client pause %s --until 2026-12-01 --why holiday", clinic.ada);
    site_fails(site, 77, "open alert", PLAN "--angle-deg 95 --felt thigh", clinic.ada);
    json_decref(site_ask(site, "alert take %s " BY, alert));
    site_fails(site, 77, "open alert", "plan move %s --stage upper-hamstring " BY, clinic.ada);
    /* Back, or another dose at the same stage, needs no closing. */
    json_decref(site_ask(site, PLAN "--stage lower-hamstring --sets 1", clinic.ada));
    close_alert(&clinic, alert);
    json_t *moved = site_ask(site, "plan move %s --stage upper-hamstring " BY, clinic.ada);
    look_is(moved, "stage", "upper-hamstring");
    g_autofree char *doubts = as_text(moved);
    assert_true(holds(doubts, "readiness says stay, and a clinician moves on"));
    /* Why she came there is told later as well. */
    g_autofree char *told = as_text(site_ask(site, "why %s", clinic.ada));
    assert_true(holds(told, "plan.move"));
    assert_true(holds(told, "answered sessions in the window"));
    solo_close(&clinic);
}

static void on_hold_the_plan_set_anew_moves_nobody_on(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    g_autofree char *alert = open_alert(&clinic, "fall", "she slipped");
    site_fails(site, 77, "hold", PLAN "--stage upkeep", clinic.ada);
    json_decref(site_ask(site, "plan move %s --stage calf-with-strap " BY, clinic.ada));
    close_alert(&clinic, alert);
    solo_close(&clinic);
}

static void upkeep_asks_on_fewer_days(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    assert_int_equal(in_the_week(&clinic, "2026-03-09"), 7);
    json_t *moved = site_ask(site, "plan move %s --stage upkeep " BY, clinic.ada);
    look_json(moved, "{\"days\":\"stage\",\"rule\":\"FREQ=WEEKLY;BYDAY=MO,WE,FR\"}");
    json_decref(moved);
    assert_int_equal(in_the_week(&clinic, "2026-03-09"), 3);
    solo_to(&clinic, "2026-03-02T08:10:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "next step: 3 days a week", NULL), 1);
    solo_to(&clinic,
            "2026-03-03T12:00:00Z"); /* a Tuesday: Monday's was asked, this is no day of it */
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "time for your stretches", NULL), 1);
    json_decref(site_ask(site, "plan move %s --stage upper-hamstring " BY, clinic.ada));
    assert_int_equal(in_the_week(&clinic, "2026-03-09"), 7);
    solo_to(&clinic, "2026-03-03T12:10:00Z");
    assert_int_equal(
        stand_in_sent(clinic.gateway, ADA, "back one step, to an easier stretch, 7 days", NULL), 1);
    /* Days that were set for the client stay theirs. */
    json_decref(
        site_ask(site, PLAN "--stage upper-hamstring --rule FREQ=DAILY\\;INTERVAL=2", clinic.ada));
    moved = site_ask(site, "plan move %s --stage upkeep " BY, clinic.ada);
    look_json(moved, "{\"days\":\"own\",\"rule\":\"FREQ=DAILY;INTERVAL=2\"}");
    json_decref(moved);
    solo_close(&clinic);
}

/* --- where it begins --- */

static void what_is_known_stands_in_for_what_is_not_said(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_decref(site_ask(site, PLAN "--stage lower-hamstring --start 2026-02-23", clinic.ada));
    solo_to(&clinic, "2026-03-02T11:01:00Z");
    stand_in_put(clinic.gateway, ADA, "Letter D please", NULL);
    solo_to(&clinic, "2026-03-02T11:20:00Z");
    static const char *const READINGS[] = {"left --method goniometer --angle-deg 71",
                                           "right --method goniometer --angle-deg 64",
                                           "right --method door --distance-cm 70"};
    json_decref(site_ask(site, "client set %s --leg-cm 85", clinic.ada));
    for (size_t i = 0; i < G_N_ELEMENTS(READINGS); i++)
        json_decref(site_ask(site, "measure add %s --movement leg-raise --side %s " BY, clinic.ada,
                             READINGS[i]));
    json_t *plan = site_ask(site, PLAN, clinic.ada);
    look_is(plan, "stage", "upper-hamstring"); /* 64 degrees, at the sit bone */
    g_autofree char *told = as_text(plan);
    assert_true(holds(told, "felt, by the latest letter"));
    assert_true(holds(told, "64 degrees"));
    /* What the clinician says goes before what is known. */
    plan = site_ask(site, PLAN "--felt calf --angle-deg 80", clinic.ada);
    look_is(plan, "stage", "ankle-pumping");
    json_decref(plan);
    solo_to(&clinic, "2026-04-08T12:00:00Z"); /* too long ago to stand for anything */
    plan = site_ask(site, PLAN, clinic.ada);
    look_is(plan, "stage", "ankle-pumping");
    g_autofree char *later = as_text(plan);
    assert_true(holds(later, "nothing measured"));
    solo_close(&clinic);
}

/* --- a fresh screen --- */

static void a_fresh_screen_may_stop_a_plan_that_runs(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *same =
        site_ask(site, "screen %s " BY " --floor yes --finding 'lives alone'", clinic.ada);
    assert_null(json_object_get(same, "alert")); /* a caution changes nothing */
    json_decref(same);
    json_t *screen =
        site_ask(site, "screen %s " BY " --floor yes --finding 'broke her wrist'", clinic.ada);
    g_autofree char *alert = look_copy(screen, "alert");
    json_decref(screen);
    solo_to(&clinic, "2026-03-03T12:00:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "time for your stretches", NULL), 0);
    g_autofree char *told = as_text(site_ask(site, "why %s", alert));
    assert_true(holds(told, "recent-fracture"));
    site_fails(site, 77, "hold", "plan move %s --stage upper-hamstring " BY, clinic.ada);
    /* Set anew, with the stage named by the clinician, it goes on. */
    json_decref(site_ask(site, PLAN "--stage calf-with-strap", clinic.ada));
    json_t *open = site_ask(site, "alerts");
    assert_int_equal(json_array_size(open), 0);
    json_decref(open);
    solo_to(&clinic, "2026-03-04T12:00:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "time for your stretches", NULL), 1);
    /* The same finding again is no news. */
    same = site_ask(site, "screen %s " BY " --floor yes --finding 'broke her wrist in spring'",
                    clinic.ada);
    assert_null(json_object_get(same, "alert"));
    json_decref(same);
    solo_close(&clinic);
}

static void who_can_no_longer_get_up_from_the_floor_is_shown_another_set_up(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *screen = site_ask(site, "screen %s " BY " --floor no --clear", clinic.ada);
    g_autofree char *alert = look_copy(screen, "alert");
    json_decref(screen);
    g_autofree char *told = as_text(site_ask(site, "why %s", alert));
    assert_true(holds(told, "door-frame"));
    json_t *plan = site_ask(site, "plan show %s", clinic.ada);
    look_is(json_array_get(json_object_get(plan, "movements"), 0), "set_up", "strap-bed");
    json_decref(plan);
    close_alert(&clinic, alert);
    solo_to(&clinic, "2026-03-02T12:00:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "time for your stretches", NULL), 1);
    solo_close(&clinic);
}

/* --- dose and range --- */

static void what_was_told_is_shown_as_dose(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    solo_to(&clinic, "2026-03-03T08:31:00Z");
    json_decref(site_ask(site, "report %s --date 2026-03-02 --done yes --intensity 4 --pain 0 " BY,
                         clinic.ada));
    json_decref(site_ask(site, "report %s --date 2026-03-03 --done partly " BY, clinic.ada));
    json_t *plan = site_ask(site, "plan show %s", clinic.ada);
    const json_t *told = json_object_get(plan, "week_done");
    look_json(told, "{\"done\":1,\"partly\":1,\"days\":2}");
    const json_t *muscle = json_array_get(json_object_get(told, "muscles"), 0);
    /* 2 sets of 10 to 15, once for sure and perhaps twice; and 1 to 3 minutes held relaxed */
    look_json(muscle,
              "{\"muscle\":\"hamstring\",\"repetitions\":[20.0,60.0],\"static_s\":[60.0,360.0]}");
    json_decref(plan);
    solo_close(&clinic);
}

static void sides_are_compared_within_one_day(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
#define READ "measure add %s --movement leg-raise --method goniometer " BY " --side "
    json_decref(site_ask(site, READ "left --angle-deg 60 --date 2026-02-20", clinic.ada));
    json_decref(site_ask(site, READ "right --angle-deg 75", clinic.ada));
    json_t *list = site_ask(site, "measure list %s", clinic.ada);
    assert_int_equal(json_array_size(json_object_get(list, "sides")), 0);
    json_decref(list);
    json_decref(site_ask(site, READ "left --angle-deg 67", clinic.ada));
    list = site_ask(site, "measure list %s", clinic.ada);
    look_json(json_array_get(json_object_get(list, "sides"), 0),
              "{\"left\":67.0,\"right\":75.0,\"difference\":8.0,\"right_is\":\"more\"}");
    json_decref(list);
    json_t *wall = site_ask(
        site,
        "measure add %s --movement knee-to-wall --side left --method tape --distance-cm 8 " BY,
        clinic.ada);
    look_json(wall, "{\"value\":8.0,\"unit\":\"cm\",\"about_deg\":28.8}");
    json_decref(wall);
    solo_close(&clinic);
}

/* At noon in Auckland it is the day before in UTC. */
static void a_reading_has_the_date_that_it_was_given(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_decref(site_ask(site, "client set %s --zone Pacific/Auckland", clinic.ada));
    json_decref(site_ask(site, READ "left --angle-deg 60 --date 2026-02-02", clinic.ada));
    json_t *reading = site_ask(site, READ "left --angle-deg 67 --date 2026-02-20", clinic.ada);
    look_json(reading, "{\"date\":\"2026-02-20\",\"beside_date\":\"2026-02-02\"}");
    json_decref(reading);
    solo_close(&clinic);
}

static void what_a_method_does_not_measure_is_refused(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    site_fails(site, 64, "distance_cm: 30: is not what --method goniometer measures",
               READ "left --angle-deg 60 --distance-cm 30", clinic.ada);
    site_fails(site, 64, "give angle_deg alone", READ "left --height-cm 30", clinic.ada);
    site_fails(site, 64, "is not what --method door measures: give distance_cm alone",
               "measure add %s --movement leg-raise --side left --method door --distance-cm 30 "
               "--angle-deg 60 " BY,
               clinic.ada);
    site_fails(site, 65, "1899-03-01: lies before the year 1900",
               READ "left --angle-deg 60 --date 1899-03-01", clinic.ada);
    site_fails(site, 65, "2026-03-03: lies ahead", READ "left --angle-deg 60 --date 2026-03-03",
               clinic.ada);
    json_decref(site_ask(site, "client set %s --born 1948", clinic.ada));
    site_fails(site, 65, "1947-12-31: lies before the client was born, in 1948",
               READ "left --angle-deg 60 --date 1947-12-31", clinic.ada);
    json_t *list = site_ask(site, "measure list %s", clinic.ada);
    assert_int_equal(json_array_size(json_object_get(list, "measures")), 0);
    json_decref(list);
    solo_close(&clinic);
}

/* The record must name who looked. A clinician of the house may be on no list, so nobody is refused. */
static void a_name_that_is_on_no_list_is_told_of(void **state)
{
    static const char *const NAMES[] = {"R. Okafor", "R. Okafro"};
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        json_t *screen =
            site_ask(clinic.site, "screen %s --floor yes --clear --by '%s'", clinic.ada, NAMES[i]);
        assert_int_equal(json_array_size(json_object_get(screen, "warnings")), i);
        json_decref(screen);
    }
    solo_close(&clinic);
}

/* --- a loss of height ---------------------------------------------------------------------------- */

#define TALL "measure add %s --movement height --method stadiometer " BY " --height-cm "

static void close_all(Solo *clinic)
{
    json_t *alerts = site_ask(clinic->site, "alerts");
    size_t i;
    json_t *alert;

    json_array_foreach(alerts, i, alert)
        close_alert(clinic, json_string_value(json_object_get(alert, "alert")));
    json_decref(alerts);
}

/* A vertebra may give way with no fall and little pain: 2 cm since an earlier measuring call for an X-ray (Siminoski 2005, from
 * memory). */
static void a_loss_of_height_calls_a_clinician(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_decref(site_ask(site, TALL "164 --date 2026-02-20", clinic.ada));
    json_t *first = site_ask(site, TALL "163.2", clinic.ada); /* within the error of measuring */
    assert_null(json_object_get(first, "alert"));
    json_decref(first);
    solo_to(&clinic, "2026-03-02T08:10:00Z");
    json_t *second = site_ask(site, TALL "162.6", clinic.ada); /* beyond it */
    assert_non_null(json_object_get(second, "alert"));
    json_decref(second);
    json_t *alerts = site_ask(site, "alerts");
    look_json(json_array_get(alerts, 0), "{\"kind\":\"height-loss\",\"class\":\"digest\"}");
    json_decref(alerts);
    close_all(&clinic);
    /* Looked into already, and no more since. */
    solo_to(&clinic, "2026-03-02T08:11:00Z");
    json_t *third = site_ask(site, TALL "162.5", clinic.ada);
    assert_null(json_object_get(third, "alert"));
    json_decref(third);
    solo_to(&clinic, "2026-03-02T08:12:00Z");
    json_t *fourth = site_ask(site, TALL "162", clinic.ada); /* two in all since the tallest */
    g_autofree char *alert = look_copy(fourth, "alert");
    json_decref(fourth);
    alerts = site_ask(site, "alerts");
    assert_int_equal(json_array_size(alerts), 1);
    look_json(json_array_get(alerts, 0), "{\"kind\":\"height-loss\",\"class\":\"today\"}");
    json_decref(alerts);
    solo_to(&clinic, "2026-03-02T11:00:00Z");
    assert_true(stand_in_sent(clinic.gateway, NULL, "loss of height 2 cm", NULL) > 0);
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "time for your stretches", NULL), 0);
    site_fails(site, 77, "hold", "plan move %s --stage upkeep " BY, clinic.ada);
    g_autofree char *why = as_text(site_ask(site, "why %s", alert));
    assert_true(holds(why, "164, now 162 cm"));
    close_alert(&clinic, alert);
    solo_to(&clinic, "2026-03-02T11:10:00Z");
    json_t *fifth = site_ask(site, TALL "161.8", clinic.ada);
    assert_null(json_object_get(fifth, "alert"));
    json_decref(fifth);
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nobody_moves_on_over_an_open_alert),
        cmocka_unit_test(on_hold_the_plan_set_anew_moves_nobody_on),
        cmocka_unit_test(upkeep_asks_on_fewer_days),
        cmocka_unit_test(what_is_known_stands_in_for_what_is_not_said),
        cmocka_unit_test(a_fresh_screen_may_stop_a_plan_that_runs),
        cmocka_unit_test(who_can_no_longer_get_up_from_the_floor_is_shown_another_set_up),
        cmocka_unit_test(what_was_told_is_shown_as_dose),
        cmocka_unit_test(a_reading_has_the_date_that_it_was_given),
        cmocka_unit_test(what_a_method_does_not_measure_is_refused),
        cmocka_unit_test(a_name_that_is_on_no_list_is_told_of),
        cmocka_unit_test(a_loss_of_height_calls_a_clinician),
        cmocka_unit_test(sides_are_compared_within_one_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
