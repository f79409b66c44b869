/* SPDX-License-Identifier: Apache-2.0 */
/* A reminder waits for its gateway, and the plan is set anew meanwhile. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define ASKS "time for your stretches"

static void session_is(Solo *clinic, const char *state)
{
    json_t *sessions =
        site_ask(clinic->site, "sessions %s --from 2026-03-02 --days 1", clinic->ada);

    look_is(json_array_get(sessions, 0), "state", state);
    json_decref(sessions);
}

/* The gateway errs from before the session until after the plan was set anew. Gives how often the reminder was
 * tried by then. */
static int set_anew(Solo *clinic, const char *at, const char *start)
{
    solo_to(clinic, "2026-03-02T08:29:00Z");
    stand_in_answer(clinic->gateway, ANSWER_ERROR, -1);
    solo_to(clinic, "2026-03-02T08:40:00Z");
    json_decref(site_ask(
        clinic->site, "plan set %s --programme calf-and-hamstring --felt thigh --at %s --start %s",
        clinic->ada, at, start));
    int tried = solo_heard(clinic, ASKS);
    assert_true(tried > 0);
    stand_in_answer(clinic->gateway, ANSWER_ACCEPT, -1);
    return tried;
}

/* A text that asks for stretches on a day that the clinician has just taken out of the plan would be a text too many. */
static void a_day_that_the_plan_has_no_more_is_not_asked_for(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    int tried = set_anew(&clinic, "08:30", "2026-03-09");

    (void)state;
    solo_to(&clinic, "2026-03-02T11:00:00Z");
    assert_int_equal(solo_heard(&clinic, ASKS), tried);
    solo_to(&clinic, "2026-03-03T09:00:00Z");
    session_is(&clinic, "unasked"); /* and is nobody's refusal */
    assert_int_equal(solo_heard(&clinic, ASKS), tried);
    solo_to(&clinic, "2026-03-09T08:31:00Z");
    assert_int_equal(solo_heard(&clinic, ASKS), tried + 1);
    solo_close(&clinic);
}

static void another_time_of_that_day_is_asked_for_once(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");
    int tried = set_anew(&clinic, "18:00", "2026-03-02");

    (void)state;
    solo_to(&clinic, "2026-03-02T11:00:00Z");
    assert_int_equal(solo_heard(&clinic, ASKS), tried + 1);
    session_is(&clinic, "asked");
    solo_to(&clinic, "2026-03-02T18:01:00Z");
    assert_int_equal(solo_heard(&clinic, ASKS), tried + 1);
    solo_close(&clinic);
}

/* The mail server is away while the mail is made, and told of movements; then the client wants no body part named. */
static void a_mail_is_worded_as_it_leaves(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "18:00");
    Site *site = clinic.site;

    (void)state;
    site_use_servers(site, clinic.gateway, SPEAKS_FORM, clinic.port, 0, site_free_port());
    site_reload(site);
    json_t *added = site_ask(site, "client add --name 'Ivy M.' --channel email --email "
                                   "ivy@post.example --wording plain --consent "
                                   "'email: signed form, R. Okafor, 2026-03-01'");
    g_autofree char *ivy = look_copy(added, "client");
    json_decref(added);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", ivy));
    json_decref(
        site_ask(site, "plan set %s --programme calf-and-hamstring --at 09:00 --felt calf", ivy));
    solo_to(&clinic, "2026-03-02T09:10:00Z");
    json_decref(site_ask(site, "client set %s --wording private", ivy));
    site_use_servers(site, clinic.gateway, SPEAKS_FORM, clinic.port, 0,
                     stand_in_smtp_port(clinic.gateway));
    site_reload(site);
    solo_to(&clinic, "2026-03-02T11:00:00Z");
    json_t *messages = site_ask(site, "messages --client %s", ivy);
    const json_t *reminder = look_only(messages, "kind", "reminder");
    look_is(reminder, "fate", "accepted");
    assert_null(strstr(json_string_value(json_object_get(reminder, "text")), "calf"));
    json_decref(messages);
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_that_the_plan_has_no_more_is_not_asked_for),
        cmocka_unit_test(another_time_of_that_day_is_asked_for_once),
        cmocka_unit_test(a_mail_is_worded_as_it_leaves),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
