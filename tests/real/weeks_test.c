/* SPDX-License-Identifier: Apache-2.0 */
/* What comes up in the weeks of a plan beside its sessions: the check-in, a long break, the review and the end. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "daemon/cli/cli.h"
#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define LETTER_ASKED "reply LETTER"

/* The plan began a week ago, so that the check-in is due today. */
static void begin_a_week_ago(Solo *clinic, const char *more)
{
    json_decref(
        site_ask(clinic->site,
                 "plan set %s --programme calf-and-hamstring --at 08:30 --stage lower-hamstring"
                 " --start 2026-02-23 %s",
                 clinic->ada, more));
}

static void practise(Solo *clinic, const char *date)
{
    json_decref(site_ask(clinic->site,
                         "report %s --date %s --done yes --intensity 4 --pain 0 --by 'R. Okafor'",
                         clinic->ada, date));
}

static char *alert_id(Solo *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "alerts");
    char *id = look_copy(look_only(list, "kind", kind), "alert");

    json_decref(list);
    return id;
}

/* What `osier why` tells of an id, as text (g_free). */
static char *why(Solo *clinic, const char *id)
{
    json_t *told = site_ask(clinic->site, "why %s", id);
    char *text = json_dumps(told, JSON_COMPACT);

    json_decref(told);
    return text;
}

static char *message_id(Solo *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "messages --client %s", clinic->ada);
    char *id = look_copy(look_only(list, "kind", kind), "message");

    json_decref(list);
    return id;
}

static void the_last_reply_is(Solo *clinic, const char *text, const char *state)
{
    json_t *replies = site_ask(clinic->site, "replies");

    look_is(look_only(replies, "text", text), "state", state);
    json_decref(replies);
}

static bool holds(const char *text, const char *part)
{
    if (strstr(text, part) != NULL) return true;
    print_message("no '%s' in %s\n", part, text);
    return false;
}

/* --- the check-in --- */

static void a_letter_is_asked_and_read(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    begin_a_week_ago(&clinic, "");
    solo_to(&clinic, "2026-03-02T10:59:00Z");
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 0);
    solo_to(&clinic, "2026-03-02T11:01:00Z");
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 1);
    solo_says(&clinic, "Letter D please", "2026-03-02T11:20:00Z");
    the_last_reply_is(&clinic, "Letter D please", "read");
    g_autofree char *told = why(&clinic, clinic.ada);
    assert_true(holds(told, "\"letter\":\"D\""));
    assert_true(holds(told, "\"place\":\"sit-bone\""));
    g_autofree char *asked = message_id(&clinic, "checkin");
    g_autofree char *reasons = why(&clinic, asked);
    assert_true(holds(reasons, "weekly check-in"));
    /* The letter is of no session: that is still open. */
    json_t *sessions = site_ask(clinic.site, "sessions %s --from 2026-03-02 --days 1", clinic.ada);
    look_is(json_array_get(sessions, 0), "state", "asked");
    json_decref(sessions);
    solo_to(&clinic, "2026-03-03T12:00:00Z"); /* once a week */
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 1);
    solo_close(&clinic);
}

static void d_alone_is_done_to_a_reminder_and_a_letter_to_the_check_in(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    begin_a_week_ago(&clinic, "");
    solo_to(&clinic, "2026-03-02T11:01:00Z");
    /* The session of the morning is still open, so it may be either. */
    solo_says(&clinic, "D", "2026-03-02T11:10:00Z");
    the_last_reply_is(&clinic, "D", "unread");
    practise(&clinic, "2026-03-02");
    solo_says(&clinic, "d.", "2026-03-02T11:20:00Z");
    the_last_reply_is(&clinic, "d.", "read");
    g_autofree char *told = why(&clinic, clinic.ada);
    assert_true(holds(told, "\"letter\":\"D\""));
    solo_to(&clinic, "2026-03-03T08:31:00Z");
    solo_says(&clinic, "D ", "2026-03-03T08:40:00Z");
    json_t *sessions = site_ask(clinic.site, "sessions %s --from 2026-03-03 --days 1", clinic.ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
    solo_close(&clinic);
}

static void letter_e_is_a_nerve_sign(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    begin_a_week_ago(&clinic, "");
    solo_to(&clinic, "2026-03-02T11:01:00Z");
    solo_says(&clinic, "e", "2026-03-02T11:20:00Z");
    assert_int_equal(solo_alerts(&clinic, "nerve", "today"), 1);
    g_autofree char *safety = message_id(&clinic, "safety");
    assert_non_null(safety);
    g_autofree char *alert = alert_id(&clinic, "nerve");
    g_autofree char *told = why(&clinic, alert);
    assert_true(holds(told, "letter E"));
    int before = solo_heard(&clinic, "time for your stretches");
    solo_to(&clinic, "2026-03-03T12:00:00Z"); /* on hold */
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), before);
    site_fails(clinic.site, 77, "hold", "plan move %s --stage upper-hamstring --by 'R. Okafor'",
               clinic.ada);
    solo_close(&clinic);
}

static void nobody_on_hold_is_asked_for_a_letter(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    begin_a_week_ago(&clinic, "");
    solo_to(&clinic, "2026-03-02T08:31:00Z");
    solo_says(&clinic, "done, pain 6", "2026-03-02T12:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", "today"), 1);
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 0);
    g_autofree char *alert = alert_id(&clinic, "pain");
    json_decref(site_ask(clinic.site, "alert close %s --outcome resume --by 'R. Okafor'", alert));
    solo_to(&clinic, "2026-03-03T11:01:00Z"); /* the next day, then */
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 1);
    solo_close(&clinic);
}

/* --- a long break --- */

static void two_weeks_of_silence_are_asked_about_once(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");

    (void)state;
    practise(&clinic, "2026-03-02");
    solo_to(&clinic, "2026-03-16T10:59:00Z");
    assert_int_equal(solo_heard(&clinic, "What happened?"), 0);
    assert_int_equal(solo_heard(&clinic, LETTER_ASKED), 0); /* nobody practised in that week */
    solo_to(&clinic, "2026-03-16T11:01:00Z");
    assert_int_equal(solo_heard(&clinic, "What happened?"), 1);
    g_autofree char *question = message_id(&clinic, "question");
    g_autofree char *told = why(&clinic, question);
    assert_true(holds(told, "days without practice"));
    json_t *ready = site_ask(clinic.site, "ready %s", clinic.ada);
    look_json(ready, "{\"verdict\":\"stay\",\"window_void\":true,\"one_dose_lower\":true}");
    json_decref(ready);
    solo_to(&clinic, "2026-03-20T12:00:00Z");
    assert_int_equal(solo_heard(&clinic, "What happened?"), 1);
    solo_close(&clinic);
}

static void who_was_away_is_not_asked_but_told_how_to_begin(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");

    (void)state;
    practise(&clinic, "2026-03-02");
    json_decref(site_ask(clinic.site, "client pause %s --until 2026-03-18 --why away", clinic.ada));
    solo_to(&clinic, "2026-03-18T23:00:00Z");
    assert_int_equal(solo_heard(&clinic, "fewer"), 0);
    solo_to(&clinic, "2026-03-19T11:01:00Z");
    assert_int_equal(solo_heard(&clinic, "What happened?"), 0);
    assert_int_equal(solo_heard(&clinic, "welcome back"), 1);
    g_autofree char *told = why(&clinic, clinic.ada);
    assert_true(holds(told, "the reason is known"));
    solo_close(&clinic);
}

static void a_landline_leaves_the_question_to_whoever_rings(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");
    Site *site = clinic.site;

    (void)state;
    json_t *added =
        site_ask(site, "client add --name 'Gus P.' --channel phone --phone +442079460005");
    g_autofree char *gus = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", gus));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", gus));
    solo_to(&clinic, "2026-03-16T11:01:00Z");
    assert_int_equal(solo_alerts(&clinic, "away", "digest"), 1);
    assert_int_equal(stand_in_sent(clinic.gateway, "+442079460005", NULL, NULL), 0);
    solo_close(&clinic);
}

/* --- the end --- */

static void the_review_is_a_matter_for_the_digest_and_may_end_it(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");

    (void)state;
    begin_a_week_ago(&clinic, "--review 2026-03-04");
    solo_to(&clinic, "2026-03-03T23:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "review", "digest"), 0);
    solo_to(&clinic, "2026-03-06T12:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "review", "digest"), 1);
    json_t *week = site_ask(clinic.site, "week --of 2026-03-04");
    g_autofree char *digest = json_dumps(week, JSON_COMPACT);
    json_decref(week);
    assert_true(holds(digest, "review"));
    g_autofree char *alert = alert_id(&clinic, "review");
    g_autofree char *told = why(&clinic, alert);
    assert_true(holds(told, "2026-03-04"));
    json_decref(site_ask(clinic.site, "alert close %s --outcome end --by 'R. Okafor'", alert));
    solo_to(&clinic, "2026-03-09T12:00:00Z");
    assert_int_equal(solo_heard(&clinic, "is finished"), 1);
    assert_int_equal(solo_heard(&clinic, "ring +442079460100"), 1);
    assert_int_equal(solo_heard(&clinic, "Please stop them"), 0);
    g_autofree char *goodbye = message_id(&clinic, "goodbye");
    assert_non_null(goodbye);
    solo_close(&clinic);
}

/* The clinic asks for consent anew after so many days of silence. */
static void lasts(Solo *clinic, int days)
{
    g_autofree char *path = g_build_filename(clinic->site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL,
                    *put = g_strdup_printf("silent_after: 20h, consent_days: %d", days);

    assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    GString *text = g_string_new(yaml);
    assert_int_equal(g_string_replace(text, "silent_after: 20h", put, 0), 1);
    site_settings(clinic->site, text->str);
    g_string_free(text, TRUE);
    site_reload(clinic->site);
}

static void consent_does_not_outlast_a_long_silence(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");

    (void)state;
    lasts(&clinic, 10);
    solo_to(&clinic, "2026-03-04T08:40:00Z");
    practise(&clinic, "2026-03-04");
    solo_to(&clinic, "2026-03-13T20:00:00Z"); /* ten days, but for one, after the last word */
    assert_int_equal(solo_alerts(&clinic, "consent", "today"), 0);
    int asked = solo_heard(&clinic, "time for your stretches");
    assert_int_equal(asked, 12);
    solo_to(&clinic, "2026-03-16T20:00:00Z");
    assert_int_equal(solo_alerts(&clinic, "consent", "today"), 1);
    assert_int_equal(solo_heard(&clinic, "time for your stretches"),
                     asked + 1); /* of that morning */
    json_decref(site_ask(clinic.site,
                         "client set %s --consent 'sms: rang her, J. Lindqvist, 2026-03-16'",
                         clinic.ada));
    json_decref(site_ask(clinic.site, "client resume %s --by 'J. Lindqvist'", clinic.ada));
    solo_to(&clinic, "2026-03-18T20:00:00Z");
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), asked + 3);
    assert_int_equal(solo_alerts(&clinic, "consent", "today"), 1);
    solo_close(&clinic);
}

/* Whoever lifts it without having asked would have had it back within a day, and nobody would have been called. */
static void consent_that_ended_is_lifted_by_consent_alone(void **state)
{
    Solo clinic = solo_open(SPEAKS_SIGNED, "08:30");

    (void)state;
    lasts(&clinic, 10);
    solo_to(&clinic, "2026-03-04T08:40:00Z");
    practise(&clinic, "2026-03-04");
    solo_to(&clinic, "2026-03-16T20:00:00Z");
    int asked = solo_heard(&clinic, "time for your stretches");
    g_autofree char *alert = alert_id(&clinic, "consent");
    site_fails(clinic.site, EXIT_NOT_ALLOWED, "consent is to be given anew",
               "client resume %s --by 'J. Lindqvist'", clinic.ada);
    site_fails(clinic.site, EXIT_DATA, "consent is to be given anew",
               "alert close %s --outcome resume --by 'R. Okafor'", alert);
    json_decref(site_ask(clinic.site, "client set %s --consent 'sms: rang her'", clinic.ada));
    json_decref(site_ask(clinic.site, "alert close %s --outcome resume --by 'R. Okafor'", alert));
    solo_to(&clinic, "2026-03-18T20:00:00Z");
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), asked + 2);
    solo_to(&clinic, "2026-03-28T20:00:00Z"); /* as long a silence again */
    assert_int_equal(solo_alerts(&clinic, "consent", "today"), 2);
    solo_close(&clinic);
}

static void asking_for_the_texts_again_is_consent(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    lasts(&clinic, 10);
    solo_to(&clinic, "2026-03-02T08:40:00Z");
    solo_says(&clinic, "STOP", "2026-03-02T08:50:00Z");
    solo_to(&clinic, "2026-03-22T20:00:00Z");
    int asked = solo_heard(&clinic, "time for your stretches");
    json_decref(
        site_ask(clinic.site, "client resume %s --asked 'rang' --by 'J. Lindqvist'", clinic.ada));
    solo_to(&clinic, "2026-03-25T20:00:00Z");
    assert_int_equal(solo_heard(&clinic, "time for your stretches"), asked + 3);
    assert_int_equal(solo_alerts(&clinic, "consent", "today"), 0);
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_is_asked_and_read),
        cmocka_unit_test(d_alone_is_done_to_a_reminder_and_a_letter_to_the_check_in),
        cmocka_unit_test(letter_e_is_a_nerve_sign),
        cmocka_unit_test(nobody_on_hold_is_asked_for_a_letter),
        cmocka_unit_test(two_weeks_of_silence_are_asked_about_once),
        cmocka_unit_test(who_was_away_is_not_asked_but_told_how_to_begin),
        cmocka_unit_test(a_landline_leaves_the_question_to_whoever_rings),
        cmocka_unit_test(consent_does_not_outlast_a_long_silence),
        cmocka_unit_test(consent_that_ended_is_lifted_by_consent_alone),
        cmocka_unit_test(asking_for_the_texts_again_is_consent),
        cmocka_unit_test(the_review_is_a_matter_for_the_digest_and_may_end_it),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
