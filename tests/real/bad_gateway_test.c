/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway that misbehaves: what becomes of a reminder, by what the gateway promises, and who hears
 * of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"
#define ASKS "time for your stretches"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada;
} Line;

/* One client whose welcome has gone out, at 08:25; the session is at 08:30. */
static Line line_open(Speech speech)
{
    Line line = {.site = site_new(), .gateway = stand_in_new(speech_map(speech))};

    site_use(line.site, line.gateway, speech, site_free_port());
    assert_int_equal(site_start(line.site, "2026-03-02T08:05:00Z"), 0);
    line.ada = site_client(line.site, ADA, "08:30");
    assert_true(site_clock(line.site, "2026-03-02T08:25:00Z"));
    return line;
}

static void line_close(Line *line)
{
    g_free(line->ada);
    site_free(line->site);
    stand_in_free(line->gateway);
}

static void to(Line *line, const char *instant)
{
    assert_true(site_clock(line->site, instant));
}

static void fate_is(Line *line, const char *fate)
{
    json_t *messages = site_ask(line->site, "messages --client %s", line->ada);

    look_is(look_only(messages, "kind", "reminder"), "fate", fate);
    json_decref(messages);
}

static void session_is(Line *line, const char *state)
{
    json_t *sessions = site_ask(line->site, "sessions %s --from 2026-03-02 --days 1", line->ada);

    look_is(json_array_get(sessions, 0), "state", state);
    json_decref(sessions);
}

static int alerts_of(Line *line, const char *kind)
{
    json_t *alerts = site_ask(line->site, "alerts --all");
    int n = look_count(alerts, "kind", kind);

    json_decref(alerts);
    return n;
}

/* Tries of the reminder, all under one id. */
static int tries(Line *line)
{
    const char *id = NULL;
    int n = 0;

    for (int i = 0; i < stand_in_count(line->gateway); i++) {
        const StandInSend *send = stand_in_send(line->gateway, i);
        if (send->text == NULL || strstr(send->text, ASKS) == NULL) continue;
        if (id != NULL) assert_string_equal(send->id, id);
        id = send->id;
        n++;
    }
    return n;
}

/* --- one odd answer --- */

static void odd_answer(Speech speech, StandInAnswer answer, int expected_tries, const char *fate,
                       const char *state)
{
    Line line = line_open(speech);

    stand_in_answer(line.gateway, answer, 1);
    to(&line, "2026-03-02T11:40:00Z");
    assert_int_equal(tries(&line), expected_tries);
    fate_is(&line, fate);
    to(&line, "2026-03-03T07:00:00Z");
    session_is(&line, state);
    line_close(&line);
}

static void nobody_knows_and_no_key_so_it_is_not_repeated(void **state)
{
    static const StandInAnswer ODD[] = {ANSWER_HTML, ANSWER_HALF, ANSWER_CLOSE};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++)
        odd_answer(SPEAKS_JSON, ODD[i], 1, "unsure", "unasked");
}

static void nobody_knows_but_the_key_makes_it_safe_to_repeat(void **state)
{
    static const StandInAnswer ODD[] = {ANSWER_HTML, ANSWER_HALF, ANSWER_CLOSE, ANSWER_ERROR};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++)
        odd_answer(SPEAKS_FORM, ODD[i], 2, "accepted", "silent");
}

static void an_error_is_tried_again_without_a_key_too(void **state)
{
    (void)state;
    odd_answer(SPEAKS_QUERY, ANSWER_ERROR, 2, "accepted", "silent");
}

/* --- for longer --- */

static void a_refused_person_is_an_alert(void **state)
{
    Line line = line_open(SPEAKS_JSON);

    (void)state;
    stand_in_answer(line.gateway, ANSWER_REFUSE, 1);
    to(&line, "2026-03-02T08:31:00Z");
    fate_is(&line,
            "waiting"); /* it is not being written any more, and whose fault it was will be seen */
    to(&line, "2026-03-02T09:00:00Z");
    assert_int_equal(tries(&line), 1);
    fate_is(&line, "refused");
    assert_int_equal(alerts_of(&line, "undeliverable"), 1);
    to(&line, "2026-03-03T07:00:00Z");
    session_is(&line, "unasked");
    line_close(&line);
}

static void an_hour_of_errors_delays_and_calls_for_help(void **state)
{
    Line line = line_open(SPEAKS_JSON);

    (void)state;
    stand_in_answer(line.gateway, ANSWER_ERROR, -1);
    to(&line, "2026-03-02T09:30:00Z");
    fate_is(&line, "waiting");
    assert_int_equal(alerts_of(&line, "gateway"), 1);
    assert_true(tries(&line) >= 2 && tries(&line) <= 30); /* not hammered */
    stand_in_answer(line.gateway, ANSWER_ACCEPT, -1);
    to(&line, "2026-03-02T10:00:00Z");
    fate_is(&line, "accepted");
    int before = tries(&line);
    to(&line, "2026-03-02T11:00:00Z");
    assert_int_equal(tries(&line), before);
    assert_int_equal(alerts_of(&line, "gateway"), 1);
    assert_int_equal(alerts_of(&line, "undeliverable"), 0);
    /* The alert itself waited for the gateway, and went out with it. */
    assert_true(stand_in_sent(line.gateway, "+442079460190", "gateway", NULL) >= 1);
    line_close(&line);
}

/* Calls that waited a night for the gateway: one to each clinician, and none once it is taken. */
static void a_night_of_errors_ends_without_a_burst(void **state)
{
    (void)state;
    for (int taken = 0; taken < 2; taken++) {
        Line line = line_open(SPEAKS_JSON);
        const StandInSend *call;
        to(&line, "2026-03-02T22:00:00Z");
        stand_in_answer(line.gateway, ANSWER_ERROR, -1);
        stand_in_put(line.gateway, ADA, "my face is drooping and I cannot speak", NULL);
        to(&line, "2026-03-03T05:00:00Z");
        json_t *alerts = site_ask(line.site, "alerts");
        g_autofree char *id = look_copy(look_only(alerts, "kind", "stroke"), "alert");
        json_decref(alerts);
        if (taken) json_decref(site_ask(line.site, "alert take %s --by 'R. Okafor'", id));
        int before = stand_in_sent(line.gateway, NULL, "stroke", NULL);
        stand_in_answer(line.gateway, ANSWER_ACCEPT, -1);
        to(&line, "2026-03-03T05:14:00Z");
        int okafor = 0, lindqvist = 0;
        for (int i = 0; i < stand_in_count(line.gateway); i++) {
            call = stand_in_send(line.gateway, i);
            if (call->answered != ANSWER_ACCEPT || strstr(call->text, "stroke") == NULL) continue;
            okafor += strcmp(call->to, "+442079460190") == 0;
            lindqvist += strcmp(call->to, "+442079460191") == 0;
        }
        assert_true(before > 0); /* it had been tried */
        /* The first to get through may be followed by the next round's call. */
        assert_in_range(okafor, taken ? 0 : 1, taken ? 0 : 2);
        assert_in_range(lindqvist, taken ? 0 : 1, taken ? 0 : 2);
        line_close(&line);
    }
}

static void a_morning_of_errors_lapses_the_reminder(void **state)
{
    Line line = line_open(SPEAKS_JSON);

    (void)state;
    stand_in_answer(line.gateway, ANSWER_ERROR, -1);
    to(&line, "2026-03-02T12:30:00Z");
    fate_is(&line, "lapsed");
    stand_in_answer(line.gateway, ANSWER_ACCEPT, -1);
    int before = tries(&line);
    to(&line, "2026-03-02T20:00:00Z");
    assert_int_equal(tries(&line), before);
    to(&line, "2026-03-03T07:00:00Z");
    session_is(&line, "unasked");
    line_close(&line);
}

static void refusing_everybody_is_the_gateways_fault(void **state)
{
    Line line = line_open(SPEAKS_JSON);

    (void)state;
    for (int i = 2; i < 7; i++) {
        g_autofree char *phone = g_strdup_printf("+44207946000%d", i);
        g_free(site_client(line.site, phone, "08:30"));
    }
    to(&line, "2026-03-02T08:26:00Z");
    stand_in_answer(line.gateway, ANSWER_REFUSE, -1);
    to(&line, "2026-03-02T08:50:00Z");
    assert_int_equal(alerts_of(&line, "gateway"), 1);
    assert_int_equal(alerts_of(&line, "undeliverable"), 0);
    stand_in_answer(line.gateway, ANSWER_ACCEPT, -1);
    to(&line, "2026-03-02T09:30:00Z");
    json_t *messages = site_ask(line.site, "messages");
    json_t *message;
    size_t i;
    int asked = 0;
    json_array_foreach(messages, i, message)
    {
        if (g_strcmp0(json_string_value(json_object_get(message, "kind")), "reminder") != 0)
            continue;
        look_is(message, "fate", "accepted");
        asked++;
    }
    assert_int_equal(asked, 6);
    json_decref(messages);
    line_close(&line);
}

/* Takes half a minute of real time: the exchange's own limit. */
static void a_gateway_that_says_nothing(void **state)
{
    (void)state;
    if (g_getenv("OSIER_TEST_LONG") == NULL) {
        print_message("left out: takes a minute; make check-all runs it\n");
        skip();
    }
    odd_answer(SPEAKS_JSON, ANSWER_NOTHING, 1, "unsure", "unasked");
    odd_answer(SPEAKS_FORM, ANSWER_NOTHING, 2, "accepted", "silent");
}

/* The clinic has taken its mail gateway out of the settings. */
static void mail_that_no_gateway_takes_fails_at_once(void **state)
{
    Line line = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};
    g_autofree char *path = g_build_filename(line.site->clinic, "clinic.yaml", NULL);
    char *yaml = NULL;

    (void)state;
    site_use(line.site, line.gateway, SPEAKS_FORM, site_free_port());
    assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    char *from = strstr(yaml, "  post:\n"), *to_here = strstr(yaml, "  texts:\n");
    memmove(from, to_here, strlen(to_here) + 1);
    site_settings(line.site, yaml);
    g_free(yaml);
    assert_int_equal(site_start(line.site, "2026-03-02T08:05:00Z"), 0);
    g_autofree char *said = site_said(line.site);
    assert_non_null(strstr(said, "desk@clinic.example: no gateway takes mail"));
    line.ada = site_mail_client(line.site, "ada@client.example", "08:30");
    to(&line, "2026-03-02T08:40:00Z");
    fate_is(&line, "failed");
    session_is(&line, "unasked");
    json_t *messages = site_ask(line.site, "messages --client %s", line.ada);
    look_is(look_only(messages, "kind", "reminder"), "reason", "no gateway takes mail");
    json_decref(messages);
    json_t *alerts = site_ask(line.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "undeliverable"), 1);
    json_decref(alerts);
    /* Nobody would miss the digest, and "cannot be reached" would say nothing of it. */
    to(&line, "2026-03-09T09:00:00Z");
    g_autofree char *all = site_told(line.site, "messages");
    assert_non_null(strstr(all, "TODAY - osier: no weekly digest: see osier. Reply TAKE"));
    line_close(&line);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nobody_knows_and_no_key_so_it_is_not_repeated),
        cmocka_unit_test(nobody_knows_but_the_key_makes_it_safe_to_repeat),
        cmocka_unit_test(an_error_is_tried_again_without_a_key_too),
        cmocka_unit_test(a_refused_person_is_an_alert),
        cmocka_unit_test(an_hour_of_errors_delays_and_calls_for_help),
        cmocka_unit_test(a_night_of_errors_ends_without_a_burst),
        cmocka_unit_test(a_morning_of_errors_lapses_the_reminder),
        cmocka_unit_test(refusing_everybody_is_the_gateways_fault),
        cmocka_unit_test(a_gateway_that_says_nothing),
        cmocka_unit_test(mail_that_no_gateway_takes_fails_at_once),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
