/* SPDX-License-Identifier: Apache-2.0 */
/* SIGHUP with other gateways: what waits goes out by the new one, what the old one was asked for stops, and nothing goes out
 * twice. Monday 2 March 2026; London is at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"

/* Gives the clinic another gateway of another name in the place of "texts". */
static void change_over(Site *site, StandIn *to, const char *name, int hooks_port)
{
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL;
    g_autofree char *line = g_strdup_printf("  %s:\n    kind: http-sms", name);

    site_use(site, to, SPEAKS_FORM, hooks_port);
    assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    g_autoptr(GString) text = g_string_new(yaml);
    assert_int_equal(g_string_replace(text, "  texts:\n    kind: http-sms", line, 0), 1);
    site_settings(site, text->str);
    site_reload(site);
}

static void what_waits_goes_out_by_the_new_gateway(void **state)
{
    Site *site = site_new();
    StandIn *old = stand_in_new(speech_map(SPEAKS_JSON));
    StandIn *fresh = stand_in_new(speech_map(SPEAKS_FORM));
    int port = site_free_port();

    (void)state;
    site_use(site, old, SPEAKS_JSON, port);
    assert_int_equal(site_start(site, "2026-03-02T08:05:00Z"), 0);
    g_autofree char *ada = site_client(site, ADA, "08:30");
    assert_true(site_clock(site, "2026-03-02T08:20:00Z")); /* the welcome is out */
    stand_in_answer(old, ANSWER_ERROR, -1);
    assert_true(site_clock(site, "2026-03-02T08:35:00Z"));
    int tried = stand_in_sent(old, ADA, "time for your stretches", NULL);
    assert_true(tried >= 1);

    change_over(site, fresh, "second", port);
    int polls = stand_in_polls(old);
    assert_true(site_clock(site, "2026-03-02T09:15:00Z"));
    assert_int_equal(stand_in_sent(old, ADA, "time for your stretches", NULL), tried);
    assert_int_equal(stand_in_polls(old), polls);
    assert_int_equal(stand_in_sent(fresh, ADA, "time for your stretches", NULL), 1);
    json_t *messages = site_ask(site, "messages --client %s", ada);
    json_t *reminder = look_only(messages, "kind", "reminder");
    look_is(reminder, "fate", "accepted");
    look_is(reminder, "gateway", "second");
    json_decref(messages);

    /* The new one is listened to. */
    stand_in_put(fresh, ADA, "D 4 P0", "2026-03-02T09:16:00Z");
    assert_true(site_clock(site, "2026-03-02T09:20:00Z"));
    json_t *sessions = site_ask(site, "sessions %s --from 2026-03-02 --days 1", ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
    site_free(site);
    stand_in_free(old);
    stand_in_free(fresh);
}

/* A gateway that was sick and is gone does not stand in the way of who looks at the status. */
static void who_has_left_is_not_complained_about(void **state)
{
    Site *site = site_new();
    StandIn *old = stand_in_new(speech_map(SPEAKS_JSON));
    StandIn *fresh = stand_in_new(speech_map(SPEAKS_FORM));
    int port = site_free_port();

    (void)state;
    site_use(site, old, SPEAKS_JSON, port);
    stand_in_answer(old, ANSWER_ERROR, -1);
    assert_int_equal(site_start(site, "2026-03-02T08:05:00Z"), 0);
    g_autofree char *ada = site_client(site, ADA, "08:30");
    assert_true(site_clock(site, "2026-03-02T10:30:00Z"));
    json_t *before = site_ask(site, "status");
    look_is(before, "state", "ill");
    json_decref(before);
    change_over(site, fresh, "second", port);
    json_t *after = site_ask(site, "status");
    g_autofree char *notes = json_dumps(json_object_get(after, "notes"), 0);
    if (strstr(notes, "the gateway texts") != NULL) fail_msg("%s", notes);
    json_decref(after);
    site_free(site);
    stand_in_free(old);
    stand_in_free(fresh);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_waits_goes_out_by_the_new_gateway),
        cmocka_unit_test(who_has_left_is_not_complained_about),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
