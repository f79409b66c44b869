/* SPDX-License-Identifier: Apache-2.0 */
/* Who is called about an alert, and when: days of a made-up duty list, call after call. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/watch/duty.h"

static const char SETTINGS[] =
    "{'clinic': {'name': 'Saltmarsh Lane', 'zone': 'Europe/London', 'phone': '+442079460100',"
    "            'emergency': '999', 'hours': {'mon-fri': '08:30-17:30'}, 'closed': ['2026-03-03'],"
    "            'digest': {'to': ['desk@clinic.example']}},"
    " 'duty': [{'name': 'R. Okafor', 'sms': '+442079460190', 'away': ['2026-03-05/2026-03-06']},"
    "          {'name': 'J. Lindqvist', 'sms': '+442079460191', 'after': '15min'},"
    "          {'name': 'T. Marsh', 'email': 'tm@clinic.example', 'after': '20min'}],"
    " 'again': '30min', 'gateways': {'spool': {'kind': 'spool'}}}";

typedef struct {
    Clinic *clinic;
    GTimeZone *zone;
} List;

static List list_new(void)
{
    g_autofree char *json = g_strdelimit(g_strdup(SETTINGS), "'", '"');
    g_autoptr(Faults) faults = faults_new();
    json_t *tree = json_loads(json, 0, NULL);
    List list = {.clinic = clinic_read(tree, faults),
                 .zone = g_time_zone_new_identifier("Europe/London")};

    json_decref(tree);
    assert_non_null(list.clinic);
    assert_non_null(list.zone);
    return list;
}

static void list_free(List *list)
{
    clinic_free(list->clinic);
    g_time_zone_unref(list->zone);
}

static int64_t at(const char *text)
{
    int64_t ms;

    assert_true(instant_parse(text, &ms));
    return ms;
}

/* The call after `passed` calls, the last of them at `last`. */
static void next_is(const List *list, AlertClass class, const char *treating, const char *now,
                    int passed, const char *last, const char *name, const char *when)
{
    DutyCase alert = {.class = class,
                      .treating = treating,
                      .passed = passed,
                      .last_ms = last != NULL ? at(last) : 0};
    DutyCall call;

    assert_true(duty_next(list->clinic, list->zone, &alert, at(now), &call));
    g_autofree char *told = instant_format(call.at_ms);
    assert_string_equal(call.person->name, name);
    assert_string_equal(told, when);
    assert_int_equal(call.again, passed > 0 && passed % 3 == 0);
}

static void now_goes_down_the_list_at_any_hour_and_anew(void **state)
{
    List list = list_new();
    const char *night = "2026-03-02T02:00:00Z";

    (void)state;
    next_is(&list, ALERT_NOW, NULL, night, 0, NULL, "R. Okafor", night);
    next_is(&list, ALERT_NOW, NULL, night, 1, night, "J. Lindqvist", "2026-03-02T02:15:00Z");
    next_is(&list, ALERT_NOW, NULL, night, 2, "2026-03-02T02:15:00Z", "T. Marsh",
            "2026-03-02T02:35:00Z");
    next_is(&list, ALERT_NOW, NULL, night, 3, "2026-03-02T02:35:00Z", "R. Okafor",
            "2026-03-02T03:05:00Z");
    list_free(&list);
}

static void the_treating_clinician_comes_first(void **state)
{
    List list = list_new();
    const char *noon = "2026-03-02T12:00:00Z";

    (void)state;
    next_is(&list, ALERT_NOW, "T. Marsh", noon, 0, NULL, "T. Marsh", noon);
    next_is(&list, ALERT_NOW, "T. Marsh", noon, 1, noon, "R. Okafor", "2026-03-02T12:15:00Z");
    next_is(&list, ALERT_NOW, "Nobody Here", noon, 0, NULL, "R. Okafor", noon);
    list_free(&list);
}

static void today_keeps_to_the_clinics_hours(void **state)
{
    List list = list_new();

    (void)state;
    next_is(&list, ALERT_TODAY, NULL, "2026-03-02T12:00:00Z", 0, NULL, "R. Okafor",
            "2026-03-02T12:00:00Z");
    next_is(&list, ALERT_TODAY, NULL, "2026-03-02T12:00:00Z", 1, "2026-03-02T12:00:00Z",
            "J. Lindqvist", "2026-03-02T14:00:00Z");
    /* In the evening, before a closed day: the morning after that. */
    next_is(&list, ALERT_TODAY, NULL, "2026-03-02T19:00:00Z", 0, NULL, "R. Okafor",
            "2026-03-04T08:30:00Z");
    /* Friday night: Monday. */
    next_is(&list, ALERT_TODAY, NULL, "2026-03-06T23:00:00Z", 0, NULL, "J. Lindqvist",
            "2026-03-09T08:30:00Z");
    list_free(&list);
}

/* The call after so many, the last of them at `last`, of one who is alone on the list. */
static void next_is_alone(const List *list, int passed, const char *last, const char *when)
{
    DutyCase alert = {.class = ALERT_TODAY, .passed = passed, .last_ms = at(last)};
    DutyCall call;

    assert_true(duty_next(list->clinic, list->zone, &alert, at(last), &call));
    g_autofree char *told = instant_format(call.at_ms);
    assert_string_equal(told, when);
    assert_true(call.again);
}

/* Whoever is texted the same every two hours for weeks stops reading: twice through the list, then once a day of the clinic's, to
 * each in turn, and never not at all. */
static void today_slows_down_to_once_a_day_and_never_falls_silent(void **state)
{
    static const char *const CALLS[] = {
        "R. Okafor 2026-03-09T12:00:00Z",    "J. Lindqvist 2026-03-09T14:00:00Z",
        "T. Marsh 2026-03-09T16:00:00Z",     "R. Okafor 2026-03-10T08:30:00Z",
        "J. Lindqvist 2026-03-10T10:30:00Z", "T. Marsh 2026-03-10T12:30:00Z",
        "R. Okafor 2026-03-11T08:30:00Z",    "J. Lindqvist 2026-03-12T08:30:00Z",
        "T. Marsh 2026-03-13T08:30:00Z",     "R. Okafor 2026-03-16T08:30:00Z",
    };
    List list = list_new();
    DutyCase alert = {.class = ALERT_TODAY, .last_ms = at("2026-03-09T12:00:00Z")};

    (void)state;
    for (; alert.passed < 60; alert.passed++) {
        DutyCall call;
        int64_t before = alert.last_ms;
        assert_true(duty_next(list.clinic, list.zone, &alert, before, &call));
        g_autofree char *when = instant_format(call.at_ms);
        g_autofree char *told = g_strconcat(call.person->name, " ", when, NULL);
        if (alert.passed < (int)G_N_ELEMENTS(CALLS)) assert_string_equal(told, CALLS[alert.passed]);
        assert_true(call.at_ms - before <= 4 * DAY_MS);
        alert.last_ms = call.at_ms;
    }
    g_ptr_array_set_size(list.clinic->duty, 1);
    next_is_alone(&list, 1, "2026-03-09T12:00:00Z", "2026-03-09T14:00:00Z");
    next_is_alone(&list, 2, "2026-03-09T14:00:00Z", "2026-03-10T08:30:00Z");
    list_free(&list);
}

static void who_is_away_is_left_out_unless_all_are(void **state)
{
    List list = list_new();
    const char *noon = "2026-03-05T12:00:00Z";

    (void)state;
    next_is(&list, ALERT_NOW, "R. Okafor", noon, 0, NULL, "J. Lindqvist", noon);
    for (guint i = 1; i < list.clinic->duty->len; i++) {
        DutyPerson *person = list.clinic->duty->pdata[i];
        DaySpan span = {.from = G_MININT32, .to = G_MAXINT32};
        g_array_append_val(person->away, span);
    }
    next_is(&list, ALERT_NOW, NULL, noon, 0, NULL, "R. Okafor", noon);
    list_free(&list);
}

static void a_late_start_calls_at_once_and_not_in_the_past(void **state)
{
    List list = list_new();

    (void)state;
    next_is(&list, ALERT_NOW, NULL, "2026-03-02T09:00:00Z", 1, "2026-03-02T02:00:00Z",
            "J. Lindqvist", "2026-03-02T09:00:00Z");
    list_free(&list);
}

static void the_digest_calls_nobody(void **state)
{
    List list = list_new();
    DutyCall call;

    (void)state;
    assert_false(
        duty_next(list.clinic, list.zone, &(DutyCase){.class = ALERT_FOR_DIGEST}, 0, &call));
    assert_false(duty_next(list.clinic, list.zone, &(DutyCase){.class = ALERT_NONE}, 0, &call));
    list_free(&list);
}

static void a_number_names_its_person(void **state)
{
    List list = list_new();

    (void)state;
    assert_string_equal(duty_by_number(list.clinic, "+442079460191")->name, "J. Lindqvist");
    assert_null(duty_by_number(list.clinic, "+442079460199"));
    assert_null(duty_by_number(list.clinic, NULL));
    list_free(&list);
}

/* The name of whom an alert that somebody took is passed to after so many calls. */
static const char *passed_to(const List *list, const char *taker, const char *now, int passed)
{
    DutyCase alert = {.class = ALERT_NOW, .taker = taker, .passed = passed};
    DutyCall call;

    assert_true(duty_next(list->clinic, list->zone, &alert, at(now), &call));
    return call.person->name;
}

static void what_was_taken_is_passed_to_somebody_else(void **state)
{
    static const char *const NAMES[] = {"R. Okafor", "J. Lindqvist", "T. Marsh"};
    List list = list_new();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++)
        for (int passed = 0; passed < 7; passed++)
            assert_string_not_equal(passed_to(&list, NAMES[i], "2026-03-02T10:00:00Z", passed),
                                    NAMES[i]);
    assert_string_equal(passed_to(&list, "J. Lindqvist", "2026-03-02T10:00:00Z", 1), "T. Marsh");
    g_ptr_array_set_size(list.clinic->duty, 1);
    /* alone, present or away: better the taker than nobody */
    assert_string_equal(passed_to(&list, "R. Okafor", "2026-03-02T10:00:00Z", 1), "R. Okafor");
    assert_string_equal(passed_to(&list, "R. Okafor", "2026-03-05T10:00:00Z", 1), "R. Okafor");
    list_free(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(now_goes_down_the_list_at_any_hour_and_anew),
        cmocka_unit_test(the_treating_clinician_comes_first),
        cmocka_unit_test(today_keeps_to_the_clinics_hours),
        cmocka_unit_test(today_slows_down_to_once_a_day_and_never_falls_silent),
        cmocka_unit_test(who_is_away_is_left_out_unless_all_are),
        cmocka_unit_test(a_late_start_calls_at_once_and_not_in_the_past),
        cmocka_unit_test(the_digest_calls_nobody),
        cmocka_unit_test(a_number_names_its_person),
        cmocka_unit_test(what_was_taken_is_passed_to_somebody_else),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
