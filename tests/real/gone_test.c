/* SPDX-License-Identifier: Apache-2.0 */
/* Words of a death, and of somebody else who has the client's number: nothing more goes there, a person hears within the day, and
 * decides. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define OKAFOR "+442079460190"
#define NEW_NUMBER "+442079460007"

static Solo asked(void)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    solo_to(&clinic, "2026-03-02T08:31:00Z");
    return clinic;
}

static int sent(Solo *clinic)
{
    return stand_in_sent(clinic->gateway, ADA, NULL, NULL);
}

/* The unread replies that say so, of which there must be one: what osier suggests (g_free). */
static char *suggested(Solo *clinic, const char *text)
{
    json_t *unread = site_ask(clinic->site, "unread");
    char *suggests = look_copy(look_only(unread, "text", text), "suggests");

    json_decref(unread);
    return suggests;
}

static char *id_of(Solo *clinic, const char *text)
{
    json_t *unread = site_ask(clinic->site, "unread");
    char *id = look_copy(look_only(unread, "text", text), "reply");

    json_decref(unread);
    return id;
}

static bool is_barred(Solo *clinic, const char *kind)
{
    json_t *client = site_ask(clinic->site, "client show %s", clinic->ada);
    bool there = look_count(json_object_get(client, "bars"), "kind", kind) > 0;

    json_decref(client);
    return there;
}

static void take(Solo *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "alerts");
    g_autofree char *code = look_copy(look_only(list, "kind", kind), "code");

    json_decref(list);
    json_decref(site_ask(clinic->site, "alert take %s --by 'R. Okafor'", code));
}

static void whoever_died_nothing_is_answered_and_a_clinician_hears(void **state)
{
    static const char *const SAID[] = {
        "My mother died on Sunday",
        "Mrs N has died. Please stop the texts",
        "my wife died, please stop messaging her phone",
        "Ada passed away last week. Her daughter",
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++) {
        Solo clinic = asked();
        int before = sent(&clinic);
        solo_says(&clinic, SAID[i], "2026-03-02T08:40:00Z");
        assert_int_equal(solo_alerts(&clinic, "suspended", "today"), 1);
        assert_int_equal(stand_in_sent(clinic.gateway, OKAFOR, "texts stopped", NULL), 1);
        assert_int_equal(solo_alerts(&clinic, "stopped", "today"), 0);
        assert_true(is_barred(&clinic, "suspend"));
        assert_true(is_barred(&clinic, "stop") == (strstr(SAID[i], "stop") != NULL));
        g_autofree char *command = suggested(&clinic, SAID[i]);
        g_autofree char *end = g_strdup_printf("osier client end %s --why died", clinic.ada);
        assert_string_equal(command, end);
        solo_to(&clinic, "2026-03-05T20:00:00Z");
        assert_int_equal(sent(&clinic), before);
        assert_int_equal(solo_alerts(&clinic, "missed-run", "today"), 0);
        solo_close(&clinic);
    }
}

/* Whoever takes the alert by text has not read what came in. */
static void taking_the_alert_leaves_the_reply_for_a_person(void **state)
{
    Solo clinic = asked();

    (void)state;
    solo_says(&clinic, "my dad died", "2026-03-02T08:40:00Z");
    take(&clinic, "suspended");
    g_autofree char *id = id_of(&clinic, "my dad died");
    g_autofree char *told = site_told(clinic.site, "unread");
    assert_non_null(strstr(told, "--why died"));
    solo_to(&clinic, "2026-03-03T08:40:00Z");
    assert_true(is_barred(&clinic, "suspend"));
    json_decref(site_ask(clinic.site, "unread settle %s --by 'J. Lindqvist'", id));
    assert_false(is_barred(&clinic, "suspend"));
    solo_to(&clinic, "2026-03-04T08:40:00Z");
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), 2);
    solo_close(&clinic);
}

/* One illness that is settled leaves the next to be settled. */
static void each_reply_suspends_by_itself(void **state)
{
    Solo clinic = asked();

    (void)state;
    solo_says(&clinic, "I have the flu", "2026-03-02T08:40:00Z");
    solo_says(&clinic, "now they took me to hospital", "2026-03-02T09:40:00Z");
    g_autofree char *id = id_of(&clinic, "I have the flu");
    json_decref(site_ask(clinic.site, "unread settle %s --by 'J. Lindqvist'", id));
    assert_true(is_barred(&clinic, "suspend"));
    solo_close(&clinic);
}

/* Who is bereaved and has a sign of their own is told what to do; who tells of what somebody died of is not. */
static void a_sign_of_the_writers_own_is_answered_beside_a_death(void **state)
{
    Solo clinic = asked();
    int before = sent(&clinic);

    (void)state;
    solo_says(&clinic, "Mum had a stroke. She died on Sunday", "2026-03-02T08:40:00Z");
    assert_int_equal(sent(&clinic), before);
    solo_close(&clinic);
    clinic = asked();
    solo_says(&clinic, "My husband died on Sunday. I have a pain in my chest",
              "2026-03-02T08:40:00Z");
    assert_int_equal(solo_heard(&clinic, "This can be serious"), 1);
    assert_int_equal(solo_alerts(&clinic, "heart", "now"), 1);
    solo_close(&clinic);
}

/* What comes after words of a death is somebody's who holds that telephone. */
static void a_stop_after_a_death_bars_without_an_answer(void **state)
{
    Solo clinic = asked();
    int before = sent(&clinic);

    (void)state;
    solo_says(&clinic, "mum died", "2026-03-02T08:40:00Z");
    solo_says(&clinic, "STOP", "2026-03-02T08:50:00Z");
    solo_says(&clinic, "HELP", "2026-03-02T08:55:00Z");
    assert_true(is_barred(&clinic, "stop"));
    solo_says(&clinic, "START", "2026-03-02T09:00:00Z");
    assert_true(is_barred(&clinic, "stop"));
    assert_int_equal(sent(&clinic), before);
    g_free(id_of(&clinic, "START"));
    solo_close(&clinic);
}

static void a_wrong_number_hears_no_more(void **state)
{
    Solo clinic = asked();
    int before = sent(&clinic);

    (void)state;
    solo_says(&clinic, "you have the wrong person", "2026-03-02T08:40:00Z");
    assert_int_equal(solo_alerts(&clinic, "suspended", "today"), 1);
    g_autofree char *command = suggested(&clinic, "you have the wrong person");
    g_autofree char *set = g_strdup_printf("osier client set %s --phone NUMBER", clinic.ada);
    assert_string_equal(command, set);
    solo_says(&clinic, "START", "2026-03-02T09:00:00Z");
    solo_says(&clinic, "stop", "2026-03-02T09:10:00Z");
    g_free(id_of(&clinic, "START"));
    /* settling what came in does not begin again with a stranger */
    g_autofree char *id = id_of(&clinic, "you have the wrong person");
    json_decref(site_ask(clinic.site, "unread settle %s --by 'J. Lindqvist'", id));
    solo_to(&clinic, "2026-03-03T20:00:00Z");
    assert_int_equal(sent(&clinic), before);
    json_decref(site_ask(clinic.site, "client set %s --phone " ADA, clinic.ada)); /* as it was */
    assert_true(is_barred(&clinic, "suspend"));
    json_decref(site_ask(clinic.site, "client set %s --phone " NEW_NUMBER, clinic.ada));
    assert_false(is_barred(&clinic, "suspend"));
    assert_false(is_barred(&clinic, "stop"));
    solo_to(&clinic, "2026-03-04T20:00:00Z");
    assert_int_equal(sent(&clinic), before);
    assert_true(stand_in_sent(clinic.gateway, NEW_NUMBER, "time for your stretches", NULL) > 0);
    solo_close(&clinic);
}

static void a_wrong_number_that_was_none_goes_on_by_command(void **state)
{
    Solo clinic = asked();

    (void)state;
    solo_says(&clinic, "wrong number", "2026-03-02T08:40:00Z");
    json_decref(site_ask(clinic.site, "client resume %s", clinic.ada));
    assert_false(is_barred(&clinic, "suspend"));
    solo_to(&clinic, "2026-03-03T08:40:00Z");
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), 2);
    solo_close(&clinic);
}

static void start_is_answered_or_goes_to_a_person(void **state)
{
    Solo clinic = asked();

    (void)state;
    solo_says(&clinic, "START", "2026-03-02T08:40:00Z");
    assert_int_equal(solo_heard(&clinic, "you will hear from us again"), 1);
    json_decref(site_ask(clinic.site, "client pause %s --until 2026-03-20 --why away", clinic.ada));
    solo_says(&clinic, "start", "2026-03-02T08:50:00Z");
    assert_int_equal(solo_heard(&clinic, "you will hear from us again"), 1);
    g_free(id_of(&clinic, "start"));
    solo_close(&clinic);
}

/* Nobody knows whose death it is: both are suspended, and neither telephone nor person is answered. */
static void a_death_on_a_shared_telephone_suspends_both(void **state)
{
    Solo clinic = asked();
    json_t *added = site_ask(clinic.site, "client add --name 'Bob N.' --channel sms --phone " ADA
                                          " --consent 'sms: signed form, R. Okafor, 2026-03-01'");
    g_autofree char *bob = look_copy(added, "client");
    int before = sent(&clinic);

    (void)state;
    json_decref(added);
    solo_says(&clinic, "He died on Sunday, please stop the texts", "2026-03-02T08:40:00Z");
    assert_int_equal(solo_alerts(&clinic, "suspended", "today"), 2);
    json_t *client = site_ask(clinic.site, "client show %s", bob);
    assert_int_equal(look_count(json_object_get(client, "bars"), "kind", "suspend"), 1);
    json_decref(client);
    assert_true(is_barred(&clinic, "suspend"));
    solo_to(&clinic, "2026-03-03T20:00:00Z");
    assert_int_equal(sent(&clinic), before);
    solo_close(&clinic);
}

static bool bob_is_suspended(Solo *clinic, const char *bob)
{
    json_t *client = site_ask(clinic->site, "client show %s", bob);
    bool barred = look_count(json_object_get(client, "bars"), "kind", "suspend") > 0;

    json_decref(client);
    return barred;
}

/* A hospital is no alert: what settles the reply is all that lifts it. */
static void settling_whose_it_is_lifts_it_from_all_it_suspended(void **state)
{
    Solo clinic = asked();
    json_t *added = site_ask(clinic.site, "client add --name 'Bob N.' --channel sms --phone " ADA
                                          " --consent 'sms: signed form, R. Okafor, 2026-03-01'");
    g_autofree char *bob = look_copy(added, "client");

    (void)state;
    json_decref(added);
    solo_says(&clinic, "I am in hospital", "2026-03-02T08:40:00Z");
    assert_true(is_barred(&clinic, "suspend") && bob_is_suspended(&clinic, bob));
    g_autofree char *id = id_of(&clinic, "I am in hospital");
    site_fails(clinic.site, 65, "--client", "unread settle %s --by 'J. Lindqvist'", id);
    json_decref(site_ask(clinic.site, "unread settle %s --client %s --by 'J. Lindqvist'", id, bob));
    assert_false(bob_is_suspended(&clinic, bob));
    assert_false(is_barred(&clinic, "suspend"));
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whoever_died_nothing_is_answered_and_a_clinician_hears),
        cmocka_unit_test(taking_the_alert_leaves_the_reply_for_a_person),
        cmocka_unit_test(each_reply_suspends_by_itself),
        cmocka_unit_test(a_sign_of_the_writers_own_is_answered_beside_a_death),
        cmocka_unit_test(a_stop_after_a_death_bars_without_an_answer),
        cmocka_unit_test(a_wrong_number_hears_no_more),
        cmocka_unit_test(a_wrong_number_that_was_none_goes_on_by_command),
        cmocka_unit_test(start_is_answered_or_goes_to_a_person),
        cmocka_unit_test(settling_whose_it_is_lifts_it_from_all_it_suspended),
        cmocka_unit_test(a_death_on_a_shared_telephone_suspends_both),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
