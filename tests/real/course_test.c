/* SPDX-License-Identifier: Apache-2.0 */
/* What a clinic meets in its weeks: landlines, mail, pauses, outages, pain, people who died. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define ASKS "time for your stretches"
#define CONSENTED "--consent 'email: signed form, R. Okafor, 2026-03-01'"

static int asked(Solo *clinic)
{
    return stand_in_sent(clinic->gateway, ADA, ASKS, NULL);
}

/* The states of Ada's sessions from a date on, as "done silent ..." (g_free). */
static char *states(Solo *clinic, const char *from, int days)
{
    json_t *sessions =
        site_ask(clinic->site, "sessions %s --from %s --days %d", clinic->ada, from, days);
    GString *text = g_string_new(NULL);
    json_t *session;
    size_t i;

    json_array_foreach(sessions, i, session)
    {
        g_string_append_printf(text, "%s%s", i > 0 ? " " : "",
                               json_string_value(json_object_get(session, "state")));
    }
    json_decref(sessions);
    return g_string_free(text, FALSE);
}

/* --- other ways than texts --- */

static void a_landline_is_rung_and_reported(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *added =
        site_ask(site, "client add --name 'Gus P.' --channel phone --phone +442079460005"
                       " --needs 'hard of hearing'");
    g_autofree char *gus = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", gus));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", gus));
    solo_to(&clinic, "2026-03-02T09:10:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, "+442079460005", NULL, NULL), 0);
    json_t *calls = site_ask(site, "calls");
    json_t *call = look_only(calls, "client", gus);
    look_is(call, "phone", "+442079460005");
    look_is(call, "needs", "hard of hearing");
    json_decref(calls);
    site_fails(site, 64, "by", "report %s --date 2026-03-02 --done yes", gus);
    json_decref(site_ask(site,
                         "report %s --date 2026-03-02 --slot 1 --done yes --intensity 4 --pain 0"
                         " --by 'J. Lindqvist'",
                         gus));
    calls = site_ask(site, "calls");
    assert_int_equal(look_count(calls, "client", gus), 0);
    json_decref(calls);
    solo_to(&clinic, "2026-03-03T09:10:00Z");
    json_decref(site_ask(
        site, "report %s --date 2026-03-03 --words 'she says she fell' --by 'J. Lindqvist'", gus));
    assert_int_equal(solo_alerts(&clinic, "fall", "today"), 1);
    json_t *adherence = site_ask(site, "adherence %s --from 2026-03-02 --to 2026-03-02", gus);
    look_json(adherence, "{\"prescribed\":1,\"done\":1,\"due\":1}");
    json_decref(adherence);
    solo_close(&clinic);
}

static void a_client_may_be_written_to_by_mail(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *added = site_ask(
        site, "client add --name 'Ivy M.' --channel email --email Ivy@Post.Example " CONSENTED);
    g_autofree char *ivy = look_copy(added, "client");
    json_decref(added);
    json_decref(
        site_ask(site, "screen %s --by 'R. Okafor' --floor no --finding 'dizzy at times'", ivy));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", ivy));
    solo_to(&clinic, "2026-03-02T09:10:00Z");
    assert_int_equal(stand_in_mails(clinic.gateway), 2); /* the welcome and the reminder */
    const StandInSend *mail = stand_in_mail(clinic.gateway, 1);
    assert_non_null(strstr(mail->to, "ivy@post.example"));
    assert_non_null(strstr(mail->text, "From: "));
    assert_non_null(strstr(mail->text, "Date: Mon, 02 Mar 2026 09:00:00"));
    json_t *messages = site_ask(site, "messages --client %s", ivy);
    look_json(look_only(messages, "kind", "reminder"),
              "{\"channel\":\"email\",\"fate\":\"accepted\",\"gateway\":\"post\"}");
    json_decref(messages);
    solo_close(&clinic);
}

static void who_wants_it_gets_the_sessions_as_a_calendar_with_the_first_mail(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    site_fails(site, 65, "one of yes, no", "client add --name 'Ivy M.' --calendar maybe");
    json_t *added = site_ask(site, "client add --name 'Ivy M.' --channel email --email "
                                   "ivy@post.example --calendar yes " CONSENTED);
    g_autofree char *ivy = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", ivy));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", ivy));
    solo_to(&clinic, "2026-03-02T09:10:00Z");
    assert_int_equal(stand_in_mails(clinic.gateway), 2);
    const char *first = stand_in_mail(clinic.gateway, 0)->text;
    assert_non_null(strstr(first, "text/calendar; charset=utf-8"));
    assert_non_null(strstr(first, "filename=sessions.ics"));
    assert_non_null(strstr(first, "DTSTART;TZID=Europe/London:20260302T090000"));
    assert_non_null(strstr(first, "RRULE:FREQ=DAILY"));
    assert_null(strstr(stand_in_mail(clinic.gateway, 1)->text, "text/calendar"));
    solo_close(&clinic);
}

static void a_mail_says_what_to_do_where_the_clinic_chose_plain_wording(void **state)
{
    static const char *const SAID[] = {
        "calf",    "Getting into it: ", "Getting out of it: ",  "Stop at sharp pain.",
        "swollen", "tingling",          "not an emergency line"};
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *added = site_ask(site, "client add --name 'Ivy M.' --channel email --email "
                                   "ivy@post.example --wording plain " CONSENTED);
    g_autofree char *ivy = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", ivy));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", ivy));
    solo_to(&clinic, "2026-03-02T09:10:00Z");
    json_t *messages = site_ask(site, "messages --client %s", ivy);
    const char *text =
        json_string_value(json_object_get(look_only(messages, "kind", "reminder"), "text"));
    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++)
        if (strstr(text, SAID[i]) == NULL) fail_msg("no '%s' in: %s", SAID[i], text);
    json_decref(messages);
    json_decref(site_ask(site, "client set %s --wording private", ivy));
    solo_to(&clinic, "2026-03-03T09:10:00Z");
    messages = site_ask(site, "messages --client %s --since 2026-03-03T00:00:00Z", ivy);
    text = json_string_value(json_object_get(look_only(messages, "kind", "reminder"), "text"));
    assert_null(strstr(text, "calf"));
    json_decref(messages);
    solo_close(&clinic);
}

/* --- time off --- */

static void a_pause_excuses_and_ends_by_itself(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T12:00:00Z");
    site_fails(clinic.site, 65, "2026-03-01", "client pause %s --until 2026-03-01 --why away",
               clinic.ada);
    json_decref(site_ask(clinic.site, "client pause %s --until 2026-03-04 --why away", clinic.ada));
    solo_to(&clinic, "2026-03-05T08:31:00Z");
    assert_int_equal(asked(&clinic), 2);
    g_autofree char *seen = states(&clinic, "2026-03-02", 4);
    assert_string_equal(seen, "silent excused excused asked");
    solo_close(&clinic);
}

static void an_outage_sends_only_what_still_makes_sense(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30,18:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "D 3 P0", "2026-03-02T08:40:00Z");
    assert_int_equal(site_stop(clinic.site), 0);
    /* Three days without a machine; back an hour after a session's time. */
    assert_int_equal(site_start(clinic.site, "2026-03-05T09:30:00Z"), 0);
    solo_to(&clinic, "2026-03-05T10:00:00Z");
    assert_int_equal(asked(&clinic), 2);
    g_autofree char *seen = states(&clinic, "2026-03-02", 4);
    assert_string_equal(seen, "done unasked unasked unasked unasked unasked asked planned");
    solo_close(&clinic);
}

static void a_clock_that_went_back_repeats_nothing(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T13:00:00Z");
    int before = stand_in_count(clinic.gateway);
    assert_int_equal(site_stop(clinic.site), 0);
    assert_int_equal(site_start(clinic.site, "2026-03-02T08:00:00Z"), 0);
    solo_to(&clinic, "2026-03-02T20:00:00Z");
    assert_int_equal(stand_in_count(clinic.gateway), before);
    solo_close(&clinic);
}

static void words_of_a_death_suspend_until_a_person_settles(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "This is her son, mum died on Sunday", "2026-03-02T08:35:00Z");
    int before = stand_in_sent(clinic.gateway, ADA, NULL, NULL);
    solo_to(&clinic, "2026-03-04T12:00:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, NULL, NULL), before);
    json_t *unread = site_ask(clinic.site, "unread");
    assert_int_equal(json_array_size(unread), 1);
    json_decref(unread);
    json_decref(site_ask(clinic.site, "client end %s --why died", clinic.ada));
    solo_to(&clinic, "2026-03-06T12:00:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, NULL, NULL), before);
    solo_close(&clinic);
}

/* --- pain --- */

static void pain_without_a_number_is_asked_about_once(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "done 4 but it hurts", "2026-03-02T08:33:00Z");
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "How bad is it", NULL), 1);
    solo_says(&clinic, "5", "2026-03-02T08:36:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"),
                     1); /* 5 is 2 over the usual 0, and at least 4 */
    json_t *replies = site_ask(clinic.site, "replies");
    assert_int_equal(look_count(replies, "state", "read"), 2);
    json_decref(replies);
    assert_int_equal(stand_in_sent(clinic.gateway, ADA, "Stop stretching for now", NULL), 1);
    solo_to(&clinic, "2026-03-03T08:31:00Z"); /* on hold */
    assert_int_equal(asked(&clinic), 1);
    solo_close(&clinic);
}

static void pain_without_a_number_and_no_answer_calls_someone(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "done 4 but it hurts", "2026-03-02T11:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"), 0);
    solo_to(&clinic, "2026-03-02T17:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"), 1);
    assert_int_equal(stand_in_sent(clinic.gateway, "+442079460190", "TODAY", NULL), 1);
    solo_close(&clinic);
}

static void usual_pain_is_no_alert(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    json_decref(site_ask(clinic.site, "client set %s --usual-pain 4", clinic.ada));
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "D 4 P5", "2026-03-02T08:33:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"), 0);
    solo_says(&clinic, "sorry, pain 6", "2026-03-02T08:36:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"), 1);
    solo_says(&clinic, "now the pain is 9", "2026-03-02T08:39:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "now"), 1);
    solo_close(&clinic);
}

static void a_bare_eight_is_pain_until_the_client_says_stretch(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "8", "2026-03-02T08:33:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "now"), 1);
    solo_close(&clinic);
}

static void days_without_practice_are_noticed(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "N", "2026-03-03T08:31:00Z");
    solo_to(&clinic, "2026-03-04T08:31:00Z"); /* said no, silent, silent */
    solo_to(&clinic, "2026-03-05T08:31:00Z");
    assert_int_equal(solo_alerts(&clinic, "missed-run", "today"), 1);
    g_autofree char *seen = states(&clinic, "2026-03-02", 4);
    assert_string_equal(seen, "not silent silent asked");
    json_t *adherence =
        site_ask(clinic.site, "adherence %s --from 2026-03-02 --to 2026-03-04", clinic.ada);
    look_json(adherence,
              "{\"prescribed\":3,\"done\":0,\"not\":1,\"silent\":2,\"due\":3,\"rate\":0.0}");
    look_near(adherence, "low", 0, 1e-9);
    json_decref(adherence);
    solo_close(&clinic);
}

static void no_more_than_four_a_day(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30,11:00,14:00,17:00");

    (void)state; /* the welcome is one of today's four */
    solo_to(&clinic, "2026-03-03T07:00:00Z");
    int today = stand_in_sent(clinic.gateway, ADA, NULL, NULL);
    assert_true(today <= 4);
    solo_to(&clinic, "2026-03-04T07:00:00Z");
    assert_true(stand_in_sent(clinic.gateway, ADA, NULL, NULL) - today <= 4);
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_landline_is_rung_and_reported),
        cmocka_unit_test(a_client_may_be_written_to_by_mail),
        cmocka_unit_test(who_wants_it_gets_the_sessions_as_a_calendar_with_the_first_mail),
        cmocka_unit_test(a_mail_says_what_to_do_where_the_clinic_chose_plain_wording),
        cmocka_unit_test(a_pause_excuses_and_ends_by_itself),
        cmocka_unit_test(an_outage_sends_only_what_still_makes_sense),
        cmocka_unit_test(a_clock_that_went_back_repeats_nothing),
        cmocka_unit_test(words_of_a_death_suspend_until_a_person_settles),
        cmocka_unit_test(pain_without_a_number_is_asked_about_once),
        cmocka_unit_test(pain_without_a_number_and_no_answer_calls_someone),
        cmocka_unit_test(usual_pain_is_no_alert),
        cmocka_unit_test(a_bare_eight_is_pain_until_the_client_says_stretch),
        cmocka_unit_test(days_without_practice_are_noticed),
        cmocka_unit_test(no_more_than_four_a_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
