/* SPDX-License-Identifier: Apache-2.0 */
/* What clinicians, clients and gateways get wrong: one clear line and the exit code that scripts rely
 * on, an unread entry where a person must act, and nothing that crashes or is lost. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define TEN_MB (10 * 1024 * 1024)

/* Ada has been asked at half past eight. */
static Solo desk_open(Speech speech)
{
    Solo desk = solo_open(speech, "08:30");

    solo_to(&desk, "2026-03-02T08:31:00Z");
    return desk;
}

/* --- at the command line --- */

#define ADD "client add --name 'Bea K.' --zone Europe/London --language en --channel sms "
#define CONSENT "--consent 'sms: signed form, R. Okafor, 2026-03-01' "
#define PLAN "plan set %s --programme calf-and-hamstring --angle-deg 62 --felt thigh "

static void a_plan_that_may_not_be(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    Site *site = desk.site;

    (void)state;
    json_t *added = site_ask(site, ADD "--phone +442079460002");
    g_autofree char *bea = look_copy(added, "client");
    json_decref(added);
    site_fails(site, 77, "screen", PLAN "--at 09:00", bea);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", bea));
    site_fails(site, 77, "consent", PLAN "--at 09:00", bea);
    json_decref(site_ask(site, "client set %s " CONSENT, bea));
    site_fails(site, 65, "quiet", PLAN "--at 07:59", bea);
    site_fails(site, 65, "quiet", PLAN "--at 09:00,21:00", bea);
    site_fails(site, 65, "25:00", PLAN "--at 25:00", bea);
    site_fails(site, 65, "rise", PLAN "--at 18:00,09:00", bea);
    site_fails(site, 65, "FREQ=OFTEN", PLAN "--at 09:00 --rule FREQ=OFTEN", bea);
    site_fails(site, 65, "nowhere", "plan set %s --programme nowhere --at 09:00", bea);
    site_fails(site, 65, "2026-02-30", PLAN "--at 09:00 --start 2026-02-30", bea);
    site_fails(site, 65, "181",
               "plan set %s --programme calf-and-hamstring --at 09:00 --angle-deg 181", bea);
    site_fails(site, 66, "plan", "plan show %s", bea);
    site_fails(site, 65, "2020-01-01", PLAN "--at 09:00 --review 2020-01-01", bea);
    json_decref(site_ask(site, PLAN "--at 08:00", bea)); /* the very end of the quiet hours */
    /* Who is not on the duty list may treat, and is told to be called by nobody. */
    g_autofree char *err = NULL;
    assert_int_equal(site_osier(site, NULL, &err, PLAN "--at 08:00 --clinician 'R. Okofor'", bea),
                     0);
    assert_non_null(strstr(err, "R. Okofor is not on the duty list"));
    site_fails(site, 65, "must be one line",
               "plan move %s --stage calf-with-strap --by 'R.\nOkafor'", bea);
    site_fails(site, 65, "must be one line",
               "measure add %s --movement leg-raise --side left --method goniometer --angle-deg 68 "
               "--by 'R.\nOkafor'",
               bea);
    solo_close(&desk);
}

/* Written to by mail without an address, nobody would hear that nothing is sent. */
static void a_channel_that_leads_nowhere(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    g_autofree char *err = NULL;

    (void)state;
    site_fails(desk.site, 64, "email", "client set %s --channel email", desk.ada);
    json_t *shown = site_ask(desk.site, "client show %s", desk.ada);
    look_is(shown, "channel", "sms");
    json_decref(shown);
    assert_int_equal(site_osier(desk.site, NULL, &err,
                                "client set %s --channel email --email ada@mail.example", desk.ada),
                     0);
    assert_non_null(strstr(err, "no consent to email is recorded"));
    shown = site_ask(desk.site,
                     "client set %s --channel email --consent 'email: by telephone, R. Okafor, "
                     "2026-03-01'",
                     desk.ada);
    assert_int_equal(json_array_size(json_object_get(shown, "warnings")), 0);
    json_decref(shown);
    solo_close(&desk);
}

static void a_client_that_may_not_be(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    Site *site = desk.site;

    (void)state;
    site_fails(site, 65, "Europe/Lundun",
               "client add --name 'Bea K.' --zone Europe/Lundun --phone +442079460002");
    site_fails(site, 65, "12", ADD "--phone 12");
    site_fails(site, 65, "+44207x460002", ADD "--phone +44207x460002");
    site_fails(site, 65, "+4420794600021234", ADD "--phone +4420794600021234");
    site_fails(site, 64, "phone", "client add --name 'Bea K.' --channel sms");
    site_fails(site, 65, "pigeon", "client add --name 'Bea K.' --channel pigeon");
    site_fails(site, 65, "xx: there is no language pack of that name; there are: en, es, fr",
               "client add --name 'Bea K.' --language xx --phone +442079460002");
    site_fails(site, 65, "consent", ADD "--phone +442079460002 --consent yes");
    site_fails(site, 65, "2026-13-01",
               ADD "--phone +442079460002 --consent 'sms: signed form, R. Okafor, 2026-13-01'");
    site_fails(site, 65, "Bea\\nK.", "client add --name 'Bea\nK.' --phone +442079460002");
    site_fails(site, 65, "11", ADD "--phone +442079460002 --usual-pain 11");
    site_fails(site, 64, "name", "client add --phone +442079460002");
    site_fails(site, 66, "ZZZZ", "client show ZZZZ");
    site_fails(site, 64, "--nonsense", "client add --nonsense 5");
    site_fails(site, 64, "frobnicate", "frobnicate");
    site_fails(site, 64, "rate", "client rate");
    site_fails(site, 65, "yesterday", "messages --since yesterday");
    site_fails(site, 65, "tomorrow", "clock to tomorrow");
    /* Not one of them left a client behind. */
    json_t *clients = site_ask(site, "client list");
    assert_int_equal(json_array_size(clients), 1);
    json_decref(clients);
    solo_close(&desk);
}

/* A client is not turned away over it, and whoever wrote it is told at once. */
static void a_consent_that_says_no_day(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    g_autofree char *out = NULL, *undated = NULL, *more = NULL, *ahead = NULL;

    (void)state;
    assert_int_equal(site_osier(desk.site, &out, &undated,
                                ADD "--phone +442079460002 --consent 'sms: form, R. Okafor'"),
                     0);
    assert_non_null(strstr(undated, "form, R. Okafor: has no date"));
    assert_int_equal(
        site_osier(desk.site, &more, &ahead,
                   ADD "--phone +442079460003 --consent 'sms: form, R. Okafor, 2062-03-01'"),
        0);
    assert_non_null(strstr(ahead, "2062-03-01: lies ahead"));
    /* Of somebody who is known already the same, and one that is none is called that. */
    json_t *list = site_ask(desk.site, "client list");
    const char *known = json_string_value(json_object_get(json_array_get(list, 0), "client"));
    json_t *set = site_ask(desk.site, "client set %s --consent 'email: form, R. Okafor'", known);
    assert_int_equal(json_array_size(json_object_get(set, "warnings")), 1);
    site_fails(desk.site, 65, "write the channel", "client set %s --consent yes", known);
    json_decref(set);
    json_decref(list);
    solo_close(&desk);
}

static void a_sign_that_was_mistyped(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    Site *site = desk.site;

    (void)state;
    /* taken for an alert of another kind, it would call nobody before the clinic opens */
    site_fails(site, 65, "hart", "alert open %s --kind hart --words 'tight chest' --by 'R. Okafor'",
               desk.ada);
    json_t *alerts = site_ask(site, "alerts");
    assert_int_equal(json_array_size(alerts), 0);
    json_decref(alerts);
    json_t *opened =
        site_ask(site, "alert open %s --kind heart --words x --by 'R. Okafor'", desk.ada);
    look_json(opened, "{\"kind\":\"heart\",\"class\":\"now\"}");
    json_decref(opened);
    opened = site_ask(site, "alert open %s --kind other --words x --by 'R. Okafor'", desk.ada);
    look_json(opened, "{\"kind\":\"other\",\"class\":\"today\"}");
    json_decref(opened);
    solo_close(&desk);
}

/* A sign that somebody tells on the telephone is written down by the clinic, and no text about it goes to the client. The last one that
 * did asked for the stretches: nobody is told to do as it says. */
static void nobody_is_pointed_to_a_text_that_was_not_sent(void **state)
{
    static const char *const WORDS[] = {
        "--kind heart --words 'her daughter rang'",
        "--date 2026-03-02 --words 'she says she fell'",
        "--date 2026-03-02 --done yes --pain 8",
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++) {
        Solo desk = desk_open(SPEAKS_JSON);
        json_decref(site_ask(desk.site, "%s %s %s --by 'J. Lindqvist'",
                             i == 0 ? "alert open" : "report", desk.ada, WORDS[i]));
        solo_to(&desk, "2026-03-02T08:45:00Z");
        assert_int_equal(stand_in_sent(desk.gateway, "+442079460190", "Reply TAKE", NULL), 1);
        assert_int_equal(stand_in_sent(desk.gateway, ADA, "our last text", NULL), 0);
        solo_close(&desk);
    }
}

static void a_session_that_has_not_come(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    Site *site = desk.site;

    (void)state;
    site_fails(site, 65, "2026-03-03", "report %s --date 2026-03-03 --done yes --by 'R. Okafor'",
               desk.ada);
    json_t *list = site_ask(site, "sessions %s --from 2026-03-04 --days 1", desk.ada);
    g_autofree char *later = look_copy(json_array_get(list, 0), "session");
    json_decref(list);
    site_fails(site, 65, "2026-03-04", "report %s --session %s --done yes --by 'R. Okafor'",
               desk.ada, later);
    json_decref(
        site_ask(site, "report %s --date 2026-03-02 --done yes --by 'R. Okafor'", desk.ada));
    solo_close(&desk);
}

/* --- replies --- */

static void a_phone_that_two_clients_share(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    g_autofree char *out = NULL;
    g_autofree char *err = NULL;

    (void)state;
    assert_int_equal(site_osier(desk.site, &out, &err, ADD CONSENT "--phone " ADA), 0);
    assert_non_null(strstr(err, desk.ada)); /* told at once whose it is */
    stand_in_put(desk.gateway, ADA, "D 4 P0", NULL);
    stand_in_put(desk.gateway, ADA, "I fell", NULL);
    assert_true(site_clock(desk.site, "2026-03-02T08:35:00Z"));
    json_t *unread = site_ask(desk.site, "unread");
    assert_int_equal(json_array_size(unread), 2);
    json_decref(unread);
    json_t *alerts = site_ask(desk.site, "alerts"); /* and a warning sign counts for both */
    assert_int_equal(look_count(alerts, "kind", "fall"), 2);
    json_decref(alerts);
    assert_int_equal(stand_in_sent(desk.gateway, ADA, "We have told your clinic", NULL), 1);
    solo_close(&desk);
}

/* They are told once that it is the only one. */
static void two_who_share_a_phone_and_stopped(void **state)
{
    static const char *const SAYS[] = {"STOP", "I fell", "I fell again"};
    Solo desk = desk_open(SPEAKS_JSON);
    g_autofree char *out = NULL;
    g_autofree char *err = NULL;

    (void)state;
    assert_int_equal(site_osier(desk.site, &out, &err, ADD CONSENT "--phone " ADA), 0);
    for (size_t i = 0; i < G_N_ELEMENTS(SAYS); i++) {
        g_autofree char *to = g_strdup_printf("2026-03-02T08:%02d:00Z", 40 + 5 * (int)i);
        stand_in_put(desk.gateway, ADA, SAYS[i], NULL);
        assert_true(site_clock(desk.site, to));
    }
    assert_int_equal(stand_in_sent(desk.gateway, ADA, "this is the only one", NULL), 1);
    json_t *alerts = site_ask(desk.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "fall"), 2);
    json_decref(alerts);
    solo_close(&desk);
}

static void replies_that_cannot_be_read(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};
    static const char *const BODIES[] = {
        "{\"msg\":{\"uid\":1,\"who\":\"+442079460001\",\"content\":\"D 4 \xff\xfe P0\"}}",
        "{\"msg\":{\"uid\":2,\"who\":\"+442079460001\",\"content\":\"D 4\\u0000 P0\"}}",
        "{\"msg\":{\"uid\":3,\"who\":\"+442079460001\",\"content\":\"\"}}",
        "{\"msg\":{\"uid\":4,\"who\":\"+442079460001\",\"content\":\"   \"}}",
        "{\"msg\":{\"uid\":5,\"who\":\"+442079460777\",\"content\":\"D 4 P0\"}}",
        "{\"msg\":{\"uid\":6,\"who\":null,\"content\":\"D 4 P0\"}}",
        "{\"msg\":{\"uid\":7,\"who\":\"BANK\",\"content\":\"Your code is 1234\"}}",
        "{\"msg\":[]}",
        "{\"msg\":",
        "",
        "\xff\xfe\x01",
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(BODIES); i++) {
        long status = site_post(desk.port, "/in/texts", json, BODIES[i], strlen(BODIES[i]));
        if (status != 200 && status != 202) fail_msg("%s: %ld", BODIES[i], status);
    }
    long status = site_post(desk.port, "/in/texts", json, "\0\0\0", 3);
    assert_true(status == 200 || status == 202);
    const char *const odd[] = {"Content-Type: t\xccxt/plain", NULL};
    assert_int_equal(site_post(desk.port, "/in/texts", odd, "\001 of no sort", 12), 202);
    json_t *unread = site_ask(desk.site, "unread");
    json_t *all = site_ask(desk.site, "replies");
    json_t *reply;
    size_t i;
    json_array_foreach(all, i, reply)
    {
        const char *state_of = json_string_value(json_object_get(reply, "state"));
        if (strcmp(state_of, "unread") != 0 && strcmp(state_of, "read") != 0)
            fail_msg("reply in state %s", state_of);
    }
    /* Each is there; all but the blank ones wait for a person, and those may. */
    assert_true(json_array_size(all) >= G_N_ELEMENTS(BODIES) - 1);
    assert_true(json_array_size(unread) >= json_array_size(all) - 2);
    json_decref(all);
    json_decref(unread);
    /* A warning sign among broken bytes is heard all the same. */
    const char *broken =
        "{\"msg\":{\"uid\":8,\"who\":\"+442079460001\",\"content\":\"\xff chest pain\"}}";
    assert_true(site_post(desk.port, "/in/texts", json, broken, strlen(broken)) < 300);
    json_t *alerts = site_ask(desk.site, "alerts");
    look_only(alerts, "kind", "heart");
    json_decref(alerts);
    solo_close(&desk);
}

static void a_sign_from_a_number_that_no_client_has(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    const StandInSend *call;

    (void)state;
    stand_in_put(desk.gateway, "+442079460777", "chest feels tight", NULL);
    assert_true(site_clock(desk.site, "2026-03-02T08:35:00Z"));
    assert_int_equal(stand_in_sent(desk.gateway, "+442079460190", "NOW ", &call), 1);
    assert_non_null(strstr(call->text, "? ...777: ")); /* which of the replies it is, and no more */
    solo_close(&desk);
}

/* The stranger turns out to be a client who is to be erased: the alert stays until somebody has closed it. */
static void an_open_alert_about_a_stranger_is_not_erased(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);

    (void)state;
    stand_in_put(desk.gateway, "+442079460777", "chest feels tight", NULL);
    assert_true(site_clock(desk.site, "2026-03-02T08:35:00Z"));
    json_t *added = site_ask(desk.site, ADD CONSENT "--phone +442079460777");
    g_autofree char *bea = look_copy(added, "client");
    json_decref(added);
    site_fails(desk.site, 77, "close it first",
               "client erase %s --by 'R. Okafor' --why 'early: asked'", bea);
    json_t *alerts = site_ask(desk.site, "alerts");
    g_autofree char *code = look_copy(look_only(alerts, "kind", "heart"), "alert");
    json_decref(alerts);
    json_decref(
        site_ask(desk.site, "alert close %s --outcome refer --by 'R. Okafor' --note 'rang'", code));
    json_decref(site_ask(desk.site, "client erase %s --by 'R. Okafor' --why 'early: asked'", bea));
    solo_close(&desk);
}

static void poll_items_that_cannot_be_read(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);

    (void)state;
    stand_in_put_item(desk.gateway, json_pack("{s:i, s:s}", "uid", 1, "content", "D 4"));
    stand_in_put_item(desk.gateway, json_pack("[s]", "what"));
    stand_in_put_item(desk.gateway, json_null());
    stand_in_put_item(desk.gateway,
                      json_pack("{s:i, s:{s:s}, s:[]}", "uid", 2, "who", "msisdn", ADA, "content"));
    stand_in_put(desk.gateway, ADA, "D 4 P0", NULL);
    assert_true(site_clock(desk.site, "2026-03-02T08:35:00Z"));
    json_t *replies = site_ask(desk.site, "replies");
    assert_int_equal(json_array_size(replies), 5);
    assert_int_equal(look_count(replies, "state", "unread"), 4);
    assert_int_equal(look_count(replies, "state", "read"), 1); /* the cursor moved on */
    json_decref(replies);
    /* A gateway that gives it again at every poll fills no list with it. */
    stand_in_put_item(desk.gateway, json_pack("[s]", "what"));
    assert_true(site_clock(desk.site, "2026-03-02T08:40:00Z"));
    replies = site_ask(desk.site, "replies");
    assert_int_equal(json_array_size(replies), 5);
    json_decref(replies);
    assert_true(site_clock(desk.site, "2026-03-03T08:05:00Z"));
    stand_in_put_item(desk.gateway, json_pack("[s]", "what"));
    assert_true(site_clock(desk.site, "2026-03-03T08:10:00Z"));
    replies = site_ask(desk.site, "replies");
    assert_int_equal(json_array_size(replies), 6);
    json_decref(replies);
    solo_close(&desk);
}

static void a_webhook_of_ten_megabytes(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);
    g_autofree char *body = g_malloc(TEN_MB);
    const char *small = "{\"msg\":{\"uid\":1,\"who\":\"+442079460001\",\"content\":\"D 4 P0\"}}";
    const char *const chunked[] = {"Transfer-Encoding: chunked", NULL};

    (void)state;
    memset(body, 'x', TEN_MB);
    assert_int_equal(site_post(desk.port, "/in/texts", NULL, body, TEN_MB), 413);
    assert_int_equal(site_post(desk.port, "/in/texts", chunked, body, TEN_MB), 413);
    assert_int_equal(site_post(desk.port, "/in/texts", NULL, small, strlen(small)), 200);
    json_t *replies = site_ask(desk.site, "replies");
    assert_int_equal(json_array_size(replies), 1);
    json_decref(replies);
    solo_close(&desk);
}

/* More in one second than a clinic hears in a month: all are taken, none twice. */
static void six_hundred_at_once(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);

    (void)state;
    for (int i = 0; i < 600; i++) {
        g_autofree char *body = g_strdup_printf(
            "{\"msg\":{\"uid\":%d,\"who\":\"+442079460001\",\"content\":\"thanks\"}}", i);
        assert_int_equal(site_post(desk.port, "/in/texts", NULL, body, strlen(body)), 200);
    }
    json_t *replies = site_ask(desk.site, "replies");
    assert_int_equal(json_array_size(replies), 600);
    json_decref(replies);
    solo_close(&desk);
}

/* Time went back in silence, and nothing happened. */
static void the_clock_is_not_put_back(void **state)
{
    Solo desk = desk_open(SPEAKS_JSON);

    (void)state;
    site_fails(desk.site, 65, "is past: it is 2026-03-02T08:31:00Z",
               "clock to 2026-03-02T08:30:59Z");
    solo_to(&desk, "2026-03-02T08:31:00Z");
    solo_close(&desk);
}

static char *replica_of(Solo *desk)
{
    json_t *status = site_ask(desk->site, "sync status");
    char *replica = look_copy(status, "replica");

    json_decref(status);
    return replica;
}

/* Without --seed chance is chance: two that draw the same could never be paired. */
static void two_made_up_clinics_are_two_replicas(void **state)
{
    Solo one = solo_open(SPEAKS_JSON, "08:30"), other = solo_open(SPEAKS_JSON, "08:30");
    g_autofree char *first = replica_of(&one), *second = replica_of(&other);

    (void)state;
    assert_string_not_equal(first, second);
    solo_close(&one);
    solo_close(&other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_that_may_not_be),
        cmocka_unit_test(a_client_that_may_not_be),
        cmocka_unit_test(a_channel_that_leads_nowhere),
        cmocka_unit_test(a_consent_that_says_no_day),
        cmocka_unit_test(a_sign_that_was_mistyped),
        cmocka_unit_test(nobody_is_pointed_to_a_text_that_was_not_sent),
        cmocka_unit_test(a_session_that_has_not_come),
        cmocka_unit_test(a_phone_that_two_clients_share),
        cmocka_unit_test(two_who_share_a_phone_and_stopped),
        cmocka_unit_test(replies_that_cannot_be_read),
        cmocka_unit_test(a_sign_from_a_number_that_no_client_has),
        cmocka_unit_test(an_open_alert_about_a_stranger_is_not_erased),
        cmocka_unit_test(poll_items_that_cannot_be_read),
        cmocka_unit_test(a_webhook_of_ten_megabytes),
        cmocka_unit_test(six_hundred_at_once),
        cmocka_unit_test(the_clock_is_not_put_back),
        cmocka_unit_test(two_made_up_clinics_are_two_replicas),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
