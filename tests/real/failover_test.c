/* SPDX-License-Identifier: Apache-2.0 */
/* Several gateways: which one takes a message, what happens while one of them is ill, and when a client is written to by
 * another channel instead. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"
#define BEN "+12025550143"
#define OKAFOR "+442079460190"
#define ASKS "time for your stretches"

static const char YAML[] =
    "clinic:\n"
    "  name: Reedbank Physiotherapy\n"
    "  zone: Europe/London\n"
    "  language: en\n"
    "  phone: \"+442079460100\"\n"
    "  emergency: \"999\"\n"
    "  country_code: \"44\"\n"
    "  hours: {mon-fri: \"08:30-17:30\"}\n"
    "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
    "duty:\n"
    "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
    "gateways:\n"
    "  world:\n"
    "    kind: http-sms\n"
    "    send: {url: \"http://127.0.0.1:%d/send\", json: {to: \"{to}\", text: \"{text}\", ref: "
    "\"{id}\"},\n"
    "           accepted: {status: 201, id: /id}, refused: {status: 422}}\n"
    "  home:\n"
    "    kind: http-sms\n"
    "    for: [\"44\", \"353\"]\n"
    "%s"
    "    send: {url: \"http://127.0.0.1:%d/send\", json: {to: \"{to}\", text: \"{text}\", ref: "
    "\"{id}\"},\n"
    "           accepted: {status: 201, id: /id}, refused: {status: 422}}\n"
    "    poll: {url: \"http://127.0.0.1:%d/inbox?after={cursor}\", every: 60s, items: /data/items, "
    "id: /uid,\n"
    "           from: /who/msisdn, text: /content, at: /received, cursor: /data/after}\n"
    "  post:\n"
    "    kind: mail\n"
    "    from: \"Reedbank <sessions@clinic.example>\"\n"
    "    smtp: {url: \"smtp://127.0.0.1:%d\"}\n";

static const StandInMap MAP = {"json:/ref", "json:/to", "json:/text", "{\"id\":\"m%d\"}"};

typedef struct {
    Site *site;
    StandIn *world;
    StandIn *home;
} Pair;

#define KEYED "    takes_key: true\n"
#define ASKED_FORMAT "    ask: {url: \"http://127.0.0.1:%d/ask?ref={id}\", id: /found/0/uid}\n"

/* promise: lines of home's settings; NULL: that it can be asked. */
static Pair pair_open(const char *promise)
{
    Pair pair = {.site = site_new(), .world = stand_in_new(&MAP), .home = stand_in_new(&MAP)};
    int home = stand_in_port(pair.home);
    g_autofree char *asked = g_strdup_printf(ASKED_FORMAT, home);
    g_autofree char *yaml =
        g_strdup_printf(YAML, stand_in_port(pair.world), promise != NULL ? promise : asked, home,
                        home, stand_in_smtp_port(pair.home));

    site_settings(pair.site, yaml);
    assert_int_equal(site_start(pair.site, "2026-03-02T08:05:00Z"), 0);
    return pair;
}

static void pair_close(Pair *pair)
{
    site_free(pair->site);
    stand_in_free(pair->world);
    stand_in_free(pair->home);
}

static void to(Pair *pair, const char *instant)
{
    assert_true(site_clock(pair->site, instant));
}

static void fate_is(Pair *pair, const char *client, const char *fate, const char *gateway)
{
    json_t *messages = site_ask(pair->site, "messages --client %s", client);
    json_t *reminder = look_only(messages, "kind", "reminder");

    look_is(reminder, "fate", fate);
    if (gateway != NULL) look_is(reminder, "gateway", gateway);
    json_decref(messages);
}

static int asked(StandIn *gateway, const char *who)
{
    return stand_in_sent(gateway, who, ASKS, NULL);
}

static void numbers_go_by_their_country_code(void **state)
{
    Pair pair = pair_open("");
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");
    g_autofree char *ben = site_client(pair.site, BEN, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:40:00Z");
    assert_int_equal(asked(pair.home, ADA), 1);
    assert_int_equal(asked(pair.home, BEN), 0);
    assert_int_equal(asked(pair.world, BEN), 1);
    assert_int_equal(asked(pair.world, ADA), 0);
    fate_is(&pair, ada, "accepted", "home");
    fate_is(&pair, ben, "accepted", "world");
    pair_close(&pair);
}

static void what_one_gateway_keeps_failing_on_goes_by_the_next(void **state)
{
    Pair pair = pair_open("");
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_ERROR, 2);
    to(&pair, "2026-03-02T08:40:00Z");
    assert_int_equal(asked(pair.home, ADA), 2);
    assert_int_equal(asked(pair.world, ADA), 1);
    fate_is(&pair, ada, "accepted", "world");
    pair_close(&pair);
}

static void a_sick_gateway_is_left_and_taken_again_when_it_is_well(void **state)
{
    Pair pair = pair_open("");

    (void)state;
    for (int i = 1; i <= 8; i++) {
        g_autofree char *phone = g_strdup_printf("+44207946001%d", i);
        g_free(site_client(pair.site, phone, i < 8 ? "08:30" : "11:00"));
    }
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_ERROR, -1);
    to(&pair, "2026-03-02T08:36:00Z");
    assert_int_equal(stand_in_sent(pair.world, NULL, ASKS, NULL), 7);
    json_t *alerts = site_ask(pair.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "gateway"), 1);
    assert_int_equal(look_count(alerts, "kind", "undeliverable"), 0);
    json_decref(alerts);
    /* The alert about it did not wait for it. */
    assert_true(stand_in_sent(pair.world, OKAFOR, "gateway", NULL) >= 1);
    stand_in_answer(pair.home, ANSWER_ACCEPT, -1);
    to(&pair, "2026-03-02T11:10:00Z");
    assert_int_equal(asked(pair.home, "+442079460018"), 1);
    assert_int_equal(asked(pair.world, "+442079460018"), 0);
    pair_close(&pair);
}

/* Refusals: the first few could be those people's; then it is the gateway's, and the people are written to by another. */
static void a_gateway_that_refuses_everybody_is_left(void **state)
{
    Pair pair = pair_open("");

    (void)state;
    for (int i = 1; i <= 6; i++) {
        g_autofree char *phone = g_strdup_printf("+44207946001%d", i);
        g_free(site_client(pair.site, phone, "08:30"));
    }
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_REFUSE, -1);
    to(&pair, "2026-03-02T08:40:00Z");
    assert_int_equal(stand_in_sent(pair.world, NULL, ASKS, NULL), 6);
    json_t *alerts = site_ask(pair.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "undeliverable"), 0);
    json_decref(alerts);
    pair_close(&pair);
}

static void give_mail(Pair *pair, const char *client, const char *consent)
{
    json_decref(site_ask(pair->site, "client set %s --email %s@clients.example%s", client, client,
                         consent));
}

static void with_no_gateway_left_it_goes_by_mail_where_that_was_consented_to(void **state)
{
    Pair pair = pair_open("");
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");
    g_autofree char *cy = site_client(pair.site, "+442079460003", "08:30");

    (void)state;
    give_mail(&pair, ada, " --consent 'email: signed form, R. Okafor, 2026-03-01'");
    give_mail(&pair, cy, "");
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_ERROR, -1);
    stand_in_answer(pair.world, ANSWER_ERROR, -1);
    to(&pair, "2026-03-02T09:30:00Z");
    fate_is(&pair, ada, "accepted", "post");
    fate_is(&pair, cy, "waiting", NULL);
    bool heard = false;
    for (int i = 0; i < stand_in_mails(pair.home); i++)
        heard = heard || strstr(stand_in_mail(pair.home, i)->text, ASKS) != NULL;
    assert_true(heard);
    /* Once by mail, and not by text as well when that works again. */
    stand_in_answer(pair.home, ANSWER_ACCEPT, -1);
    stand_in_answer(pair.world, ANSWER_ACCEPT, -1);
    int before = asked(pair.home, ADA) + asked(pair.world, ADA);
    to(&pair, "2026-03-02T10:30:00Z");
    assert_int_equal(asked(pair.home, ADA) + asked(pair.world, ADA), before);
    fate_is(&pair, cy, "accepted", NULL);
    pair_close(&pair);
}

/* What has not been tried, for no gateway is well, says so as well as what was tried in vain. */
static void what_waits_for_sick_gateways_says_why(void **state)
{
    Pair pair = pair_open("");

    (void)state;
    for (int i = 1; i <= 7; i++) {
        g_autofree char *phone = g_strdup_printf("+44207946001%d", i);
        g_free(site_client(pair.site, phone, "08:30"));
    }
    g_autofree char *ada = site_client(pair.site, ADA, "09:00");
    g_autofree char *cy = site_client(pair.site, "+442079460003", "09:00");
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_ERROR, -1);
    stand_in_answer(pair.world, ANSWER_ERROR, -1);
    to(&pair, "2026-03-02T09:00:10Z");
    json_t *messages = site_ask(pair.site, "messages");
    size_t i;
    json_t *message;
    json_array_foreach(messages, i, message)
    {
        const char *reason = json_string_value(json_object_get(message, "reason"));
        if (strcmp(json_string_value(json_object_get(message, "fate")), "waiting") != 0) continue;
        if (reason == NULL) fail_msg("%s", json_dumps(message, 0));
    }
    json_decref(messages);
    pair_close(&pair);
}

/* --- hosts that cannot be reached --- */

static bool line_is_down(Pair *pair)
{
    json_t *status = site_ask(pair->site, "status");
    bool down = json_is_true(json_object_get(json_object_get(status, "line"), "down"));

    json_decref(status);
    return down;
}

/* Nobody listens at the port of home, or of every gateway. */
static Pair pair_unreachable(bool every)
{
    Pair pair = {.site = site_new(), .world = stand_in_new(&MAP), .home = stand_in_new(&MAP)};
    int nobody = site_free_port();
    g_autofree char *yaml =
        g_strdup_printf(YAML, every ? site_free_port() : stand_in_port(pair.world), "", nobody,
                        nobody, every ? site_free_port() : stand_in_smtp_port(pair.home));

    site_settings(pair.site, yaml);
    assert_int_equal(site_start(pair.site, "2026-03-02T08:05:00Z"), 0);
    return pair;
}

static void one_host_that_is_gone_is_not_the_line(void **state)
{
    Pair pair = pair_unreachable(false);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:40:00Z");
    assert_false(line_is_down(&pair));
    fate_is(&pair, ada, "accepted", "world");
    pair_close(&pair);
}

static void every_host_gone_is_the_line(void **state)
{
    Pair pair = pair_unreachable(true);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:50:00Z");
    assert_true(line_is_down(&pair));
    fate_is(&pair, ada, "waiting", NULL);
    /* No gateway is blamed, however long it lasts; the digest knows of the time although it is not over. */
    to(&pair, "2026-03-02T12:10:00Z");
    assert_true(line_is_down(&pair));
    json_t *alerts = site_ask(pair.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "gateway"), 0);
    json_decref(alerts);
    json_t *week = site_ask(pair.site, "week --of 2026-03-08");
    assert_float_equal(json_number_value(json_object_get(week, "away_hours")), 4, 0.1);
    json_decref(week);
    pair_close(&pair);
}

/* --- a cut line, and then an illness --- */

static void what_the_keyed_gateway_may_hold_waits_for_it(void **state)
{
    Pair pair = pair_open(KEYED);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_CLOSE, -1);
    to(&pair, "2026-03-02T09:00:00Z");
    assert_true(asked(pair.home, ADA) > 1);
    assert_int_equal(asked(pair.world, ADA), 0); /* only home drops a second one */
    to(&pair, "2026-03-02T12:00:00Z");
    fate_is(&pair, ada, "unsure", "home");
    pair_close(&pair);
}

static void a_call_does_not_wait_for_the_keyed_gateway(void **state)
{
    Pair pair = pair_open(KEYED);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:40:00Z");
    stand_in_answer(pair.home, ANSWER_CLOSE, -1);
    stand_in_put(pair.home, ADA, "my face is drooping and I cannot speak", NULL);
    to(&pair, "2026-03-02T08:50:00Z");
    assert_true(stand_in_sent(pair.home, OKAFOR, "stroke", NULL) >= 1);
    assert_true(stand_in_sent(pair.world, OKAFOR, "stroke", NULL) >= 1);
    pair_close(&pair);
}

static void ask_case(StandInAnswer answer, int sends)
{
    Pair pair = pair_open(NULL);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, answer, 1);
    to(&pair, "2026-03-02T08:40:00Z");
    assert_int_equal(asked(pair.home, ADA), sends);
    assert_int_equal(stand_in_asked(pair.home), 1);
    fate_is(&pair, ada, "accepted", "home");
    pair_close(&pair);
}

static void a_gateway_that_can_be_asked_is_asked_before_it_is_repeated(void **state)
{
    (void)state;
    ask_case(ANSWER_CLOSE, 1);
    ask_case(ANSWER_DROP, 2);
}

static void a_gateway_that_leaves_the_settings_leaves_nothing_bound(void **state)
{
    Pair pair = pair_open(KEYED);
    g_autofree char *ada = site_client(pair.site, ADA, "08:30");

    (void)state;
    to(&pair, "2026-03-02T08:25:00Z");
    stand_in_answer(pair.home, ANSWER_CLOSE, -1);
    to(&pair, "2026-03-02T08:32:00Z");
    fate_is(&pair, ada, "waiting", NULL);
    assert_int_equal(site_stop(pair.site), 0);
    g_autofree char *yaml =
        g_strdup_printf(YAML, stand_in_port(pair.world), "", 9, 9, stand_in_smtp_port(pair.home));
    site_settings(pair.site, yaml); /* home takes no key any more */
    assert_int_equal(site_start(pair.site, "2026-03-02T08:33:00Z"), 0);
    fate_is(&pair, ada, "unsure", NULL);
    pair_close(&pair);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_go_by_their_country_code),
        cmocka_unit_test(what_one_gateway_keeps_failing_on_goes_by_the_next),
        cmocka_unit_test(a_sick_gateway_is_left_and_taken_again_when_it_is_well),
        cmocka_unit_test(a_gateway_that_refuses_everybody_is_left),
        cmocka_unit_test(with_no_gateway_left_it_goes_by_mail_where_that_was_consented_to),
        cmocka_unit_test(what_waits_for_sick_gateways_says_why),
        cmocka_unit_test(one_host_that_is_gone_is_not_the_line),
        cmocka_unit_test(every_host_gone_is_the_line),
        cmocka_unit_test(what_the_keyed_gateway_may_hold_waits_for_it),
        cmocka_unit_test(a_call_does_not_wait_for_the_keyed_gateway),
        cmocka_unit_test(a_gateway_that_can_be_asked_is_asked_before_it_is_repeated),
        cmocka_unit_test(a_gateway_that_leaves_the_settings_leaves_nothing_bound),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
