/* SPDX-License-Identifier: Apache-2.0 */
/* What comes up in the weeks of a plan beside its sessions: the check-in, a long break, the review and the end. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"
#define LETTER_ASKED "reply LETTER"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada;
} Clinic;

static Clinic clinic_open(Speech speech)
{
    Clinic clinic = {.site = site_new(), .gateway = stand_in_new(speech_map(speech))};

    site_use(clinic.site, clinic.gateway, speech, site_free_port());
    assert_int_equal(site_start(clinic.site, "2026-03-02T08:05:00Z"), 0);
    clinic.ada = site_client(clinic.site, ADA, "08:30");
    return clinic;
}

static void clinic_close(Clinic *clinic)
{
    g_free(clinic->ada);
    site_free(clinic->site);
    stand_in_free(clinic->gateway);
}

static void to(Clinic *clinic, const char *instant)
{
    assert_true(site_clock(clinic->site, instant));
}

static void says(Clinic *clinic, const char *text, const char *then)
{
    stand_in_put(clinic->gateway, ADA, text, NULL);
    to(clinic, then);
}

static int sent(Clinic *clinic, const char *holds)
{
    return stand_in_sent(clinic->gateway, ADA, holds, NULL);
}

/* The plan began a week ago, so that the check-in is due today. */
static void begin_a_week_ago(Clinic *clinic, const char *more)
{
    json_decref(
        site_ask(clinic->site,
                 "plan set %s --programme calf-and-hamstring --at 08:30 --stage lower-hamstring"
                 " --start 2026-02-23 %s",
                 clinic->ada, more));
}

static void practise(Clinic *clinic, const char *date)
{
    json_decref(site_ask(clinic->site,
                         "report %s --date %s --done yes --intensity 4 --pain 0 --by 'R. Okafor'",
                         clinic->ada, date));
}

static int alerts(Clinic *clinic, const char *kind, const char *class)
{
    json_t *list = site_ask(clinic->site, "alerts --all");
    json_t *alert;
    size_t i;
    int n = 0;

    json_array_foreach(list, i, alert)
    {
        n += g_strcmp0(json_string_value(json_object_get(alert, "kind")), kind) == 0 &&
             g_strcmp0(json_string_value(json_object_get(alert, "class")), class) == 0;
    }
    json_decref(list);
    return n;
}

static char *alert_id(Clinic *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "alerts");
    char *id = look_copy(look_only(list, "kind", kind), "alert");

    json_decref(list);
    return id;
}

/* What `osier why` tells of an id, as text (g_free). */
static char *why(Clinic *clinic, const char *id)
{
    json_t *told = site_ask(clinic->site, "why %s", id);
    char *text = json_dumps(told, JSON_COMPACT);

    json_decref(told);
    return text;
}

static char *message_id(Clinic *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "messages --client %s", clinic->ada);
    char *id = look_copy(look_only(list, "kind", kind), "message");

    json_decref(list);
    return id;
}

static void the_last_reply_is(Clinic *clinic, const char *text, const char *state)
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
    Clinic clinic = clinic_open(SPEAKS_FORM);

    (void)state;
    begin_a_week_ago(&clinic, "");
    to(&clinic, "2026-03-02T10:59:00Z");
    assert_int_equal(sent(&clinic, LETTER_ASKED), 0);
    to(&clinic, "2026-03-02T11:01:00Z");
    assert_int_equal(sent(&clinic, LETTER_ASKED), 1);
    says(&clinic, "Letter D please", "2026-03-02T11:20:00Z");
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
    to(&clinic, "2026-03-03T12:00:00Z"); /* once a week */
    assert_int_equal(sent(&clinic, LETTER_ASKED), 1);
    clinic_close(&clinic);
}

static void d_alone_is_done_to_a_reminder_and_a_letter_to_the_check_in(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_FORM);

    (void)state;
    begin_a_week_ago(&clinic, "");
    to(&clinic, "2026-03-02T11:01:00Z");
    /* The session of the morning is still open, so it may be either. */
    says(&clinic, "D", "2026-03-02T11:10:00Z");
    the_last_reply_is(&clinic, "D", "unread");
    practise(&clinic, "2026-03-02");
    says(&clinic, "d.", "2026-03-02T11:20:00Z");
    the_last_reply_is(&clinic, "d.", "read");
    g_autofree char *told = why(&clinic, clinic.ada);
    assert_true(holds(told, "\"letter\":\"D\""));
    to(&clinic, "2026-03-03T08:31:00Z");
    says(&clinic, "D ", "2026-03-03T08:40:00Z");
    json_t *sessions = site_ask(clinic.site, "sessions %s --from 2026-03-03 --days 1", clinic.ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
    clinic_close(&clinic);
}

static void letter_e_is_a_nerve_sign(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_FORM);

    (void)state;
    begin_a_week_ago(&clinic, "");
    to(&clinic, "2026-03-02T11:01:00Z");
    says(&clinic, "e", "2026-03-02T11:20:00Z");
    assert_int_equal(alerts(&clinic, "nerve", "today"), 1);
    g_autofree char *safety = message_id(&clinic, "safety");
    assert_non_null(safety);
    g_autofree char *alert = alert_id(&clinic, "nerve");
    g_autofree char *told = why(&clinic, alert);
    assert_true(holds(told, "letter E"));
    int before = sent(&clinic, "time for your stretches");
    to(&clinic, "2026-03-03T12:00:00Z"); /* on hold */
    assert_int_equal(sent(&clinic, "time for your stretches"), before);
    site_fails(clinic.site, 77, "hold", "plan move %s --stage upper-hamstring --by 'R. Okafor'",
               clinic.ada);
    clinic_close(&clinic);
}

static void nobody_on_hold_is_asked_for_a_letter(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_FORM);

    (void)state;
    begin_a_week_ago(&clinic, "");
    to(&clinic, "2026-03-02T08:31:00Z");
    says(&clinic, "done, pain 6", "2026-03-02T12:00:00Z");
    assert_int_equal(alerts(&clinic, "pain", "today"), 1);
    assert_int_equal(sent(&clinic, LETTER_ASKED), 0);
    g_autofree char *alert = alert_id(&clinic, "pain");
    json_decref(site_ask(clinic.site, "alert close %s --outcome resume --by 'R. Okafor'", alert));
    to(&clinic, "2026-03-03T11:01:00Z"); /* the next day, then */
    assert_int_equal(sent(&clinic, LETTER_ASKED), 1);
    clinic_close(&clinic);
}

/* --- a long break --- */

static void two_weeks_of_silence_are_asked_about_once(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_SIGNED);

    (void)state;
    practise(&clinic, "2026-03-02");
    to(&clinic, "2026-03-16T10:59:00Z");
    assert_int_equal(sent(&clinic, "What happened?"), 0);
    assert_int_equal(sent(&clinic, LETTER_ASKED), 0); /* nobody practised in that week */
    to(&clinic, "2026-03-16T11:01:00Z");
    assert_int_equal(sent(&clinic, "What happened?"), 1);
    g_autofree char *question = message_id(&clinic, "question");
    g_autofree char *told = why(&clinic, question);
    assert_true(holds(told, "days without practice"));
    json_t *ready = site_ask(clinic.site, "ready %s", clinic.ada);
    look_json(ready, "{\"verdict\":\"stay\",\"window_void\":true,\"one_dose_lower\":true}");
    json_decref(ready);
    to(&clinic, "2026-03-20T12:00:00Z");
    assert_int_equal(sent(&clinic, "What happened?"), 1);
    clinic_close(&clinic);
}

static void who_was_away_is_not_asked_but_told_how_to_begin(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_SIGNED);

    (void)state;
    practise(&clinic, "2026-03-02");
    json_decref(site_ask(clinic.site, "client pause %s --until 2026-03-18 --why away", clinic.ada));
    to(&clinic, "2026-03-18T23:00:00Z");
    assert_int_equal(sent(&clinic, "fewer"), 0);
    to(&clinic, "2026-03-19T11:01:00Z");
    assert_int_equal(sent(&clinic, "What happened?"), 0);
    assert_int_equal(sent(&clinic, "welcome back"), 1);
    g_autofree char *told = why(&clinic, clinic.ada);
    assert_true(holds(told, "the reason is known"));
    clinic_close(&clinic);
}

static void a_landline_leaves_the_question_to_whoever_rings(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_SIGNED);
    Site *site = clinic.site;

    (void)state;
    json_t *added =
        site_ask(site, "client add --name 'Gus P.' --channel phone --phone +442079460005");
    g_autofree char *gus = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", gus));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", gus));
    to(&clinic, "2026-03-16T11:01:00Z");
    assert_int_equal(alerts(&clinic, "away", "digest"), 1);
    assert_int_equal(stand_in_sent(clinic.gateway, "+442079460005", NULL, NULL), 0);
    clinic_close(&clinic);
}

/* --- the end --- */

static void the_review_is_a_matter_for_the_digest_and_may_end_it(void **state)
{
    Clinic clinic = clinic_open(SPEAKS_SIGNED);

    (void)state;
    begin_a_week_ago(&clinic, "--review 2026-03-04");
    to(&clinic, "2026-03-03T23:00:00Z");
    assert_int_equal(alerts(&clinic, "review", "digest"), 0);
    to(&clinic, "2026-03-06T12:00:00Z");
    assert_int_equal(alerts(&clinic, "review", "digest"), 1);
    json_t *week = site_ask(clinic.site, "week --of 2026-03-04");
    g_autofree char *digest = json_dumps(week, JSON_COMPACT);
    json_decref(week);
    assert_true(holds(digest, "review"));
    g_autofree char *alert = alert_id(&clinic, "review");
    g_autofree char *told = why(&clinic, alert);
    assert_true(holds(told, "2026-03-04"));
    json_decref(site_ask(clinic.site, "alert close %s --outcome end --by 'R. Okafor'", alert));
    to(&clinic, "2026-03-09T12:00:00Z");
    assert_int_equal(sent(&clinic, "is finished"), 1);
    assert_int_equal(sent(&clinic, "ring +442079460100"), 1);
    assert_int_equal(sent(&clinic, "Please stop them"), 0);
    g_autofree char *goodbye = message_id(&clinic, "goodbye");
    assert_non_null(goodbye);
    clinic_close(&clinic);
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
        cmocka_unit_test(the_review_is_a_matter_for_the_digest_and_may_end_it),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
