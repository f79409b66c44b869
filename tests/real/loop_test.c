/* SPDX-License-Identifier: Apache-2.0 */
/* One thread through everything: the real osierd and command line, a gateway over real HTTP and a
 * mail server over real SMTP, with a made-up clock. Monday 2 March 2026; London is at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"
#define OKAFOR "+442079460190"
#define LINDQVIST "+442079460191"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada;
} House;

static House house_open(Speech speech)
{
    House house = {.site = site_new(), .gateway = stand_in_new(speech_map(speech))};

    site_use(house.site, house.gateway, speech, site_free_port());
    assert_int_equal(site_start(house.site, "2026-03-02T08:05:00Z"), 0);
    house.ada = site_client(house.site, ADA, "08:30");
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    site_free(house->site);
    stand_in_free(house->gateway);
}

static void to(House *house, const char *instant)
{
    assert_true(site_clock(house->site, instant));
}

/* The only item of a list for which field is value. */
static json_t *only(json_t *list, const char *field, const char *value)
{
    json_t *found = look_only(list, field, value);

    assert_non_null(found);
    return found;
}

/* --- one reminder, one reply --- */

static void a_session_is_asked_once_and_its_answer_counted(void **state)
{
    House house = house_open(SPEAKS_JSON);
    Site *site = house.site;
    const StandInSend *send;

    (void)state;
    to(&house, "2026-03-02T08:29:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 0);
    to(&house, "2026-03-02T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", &send), 1);
    assert_int_equal(strlen(send->id), 32);
    stand_in_put(house.gateway, ADA, "D 4 P0", "2026-03-02T08:40:00Z");
    to(&house, "2026-03-02T08:45:00Z");

    json_t *replies = site_ask(site, "replies --client %s", house.ada);
    json_t *reply = json_array_get(replies, 0);
    assert_int_equal(json_array_size(replies), 1);
    look_is(reply, "from", ADA);
    look_is(reply, "text", "D 4 P0");
    look_is(reply, "state", "read");
    look_is(reply, "at", "2026-03-02T08:40:00Z");
    look_json(json_object_get(reply, "reading"),
              "{\"done\":\"yes\",\"intensity\":4,\"pain\":0,\"warning\":null,\"command\":null,"
              "\"person\":false,\"language\":\"en\",\"rest\":null}");
    g_autofree char *reply_id = look_copy(reply, "reply");

    json_t *sessions = site_ask(site, "sessions %s --from 2026-03-02 --days 2", house.ada);
    assert_int_equal(json_array_size(sessions), 2);
    look_json(json_array_get(sessions, 0),
              "{\"date\":\"2026-03-02\",\"slot\":1,\"local\":\"2026-03-02T08:30\","
              "\"zone\":\"Europe/London\",\"utc\":\"2026-03-02T08:30:00Z\",\"state\":\"done\"}");
    look_json(json_array_get(sessions, 1),
              "{\"date\":\"2026-03-03\",\"slot\":1,\"state\":\"planned\"}");
    g_autofree char *session = look_copy(json_array_get(sessions, 0), "session");

    json_t *adherence = site_ask(site, "adherence %s --from 2026-03-02 --to 2026-03-08", house.ada);
    /* Wilson at 95 % for 1 of 1: (1 + z*z/2 -+ z*z/2) / (1 + z*z) */
    look_json(adherence, "{\"prescribed\":1,\"done\":1,\"partly\":0,\"not\":0,\"silent\":0,"
                         "\"unasked\":0,\"excused\":0,\"due\":1,\"bounds\":[1.0,1.0]}");
    look_near(adherence, "rate", 1, 1e-9);
    look_near(adherence, "low", 1 / (1 + 3.8414588), 1e-6);
    look_near(adherence, "high", 1, 1e-9);

    json_t *messages = site_ask(site, "messages --client %s", house.ada);
    json_t *message = only(messages, "kind", "reminder");
    look_json(message, "{\"at\":\"2026-03-02T08:30:00Z\",\"to\":\"" ADA "\",\"channel\":\"sms\","
                       "\"fate\":\"accepted\",\"fate_at\":\"2026-03-02T08:30:00Z\","
                       "\"gateway\":\"texts\",\"segments\":1}");
    look_is(message, "client", house.ada);
    look_is(message, "message", send->id);
    look_is(message, "text", send->text);

    const char *const ids[] = {reply_id, session, send->id, house.ada};
    for (size_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        json_t *why = site_ask(site, "why %.12s", ids[i]);
        assert_true(json_array_size(json_object_get(why, "events")) > 0);
        look_is(why, "id", ids[i]);
        json_decref(why);
    }
    json_decref(replies);
    json_decref(sessions);
    json_decref(adherence);
    json_decref(messages);
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, ADA, "writes to you about", NULL), 1);
    house_close(&house);
}

static void no_answer_brings_one_nudge_and_then_silence(void **state)
{
    House house = house_open(SPEAKS_QUERY);

    (void)state;
    to(&house, "2026-03-03T04:31:00Z");
    json_t *messages = site_ask(house.site, "messages --client %s", house.ada);
    look_is(only(messages, "kind", "nudge"), "at", "2026-03-02T12:30:00Z");
    json_t *sessions = site_ask(house.site, "sessions %s --from 2026-03-02 --days 1", house.ada);
    look_is(json_array_get(sessions, 0), "state", "silent");
    json_t *adherence =
        site_ask(house.site, "adherence %s --from 2026-03-02 --to 2026-03-02", house.ada);
    look_json(adherence, "{\"prescribed\":1,\"done\":0,\"silent\":1,\"due\":1,\"rate\":0.0,"
                         "\"bounds\":[0.0,1.0]}");
    json_decref(adherence);
    json_decref(messages);
    json_decref(sessions);
    house_close(&house);
}

/* --- a warning sign --- */

/* The four digits that follow TAKE (g_free). */
static char *take_code(const StandInSend *alert)
{
    const char *at = strstr(alert->text, "TAKE ");

    assert_non_null(at);
    return g_strndup(at + 5, strspn(at + 5, "0123456789"));
}

static void a_warning_sign_reaches_client_and_clinician(void **state)
{
    House house = house_open(SPEAKS_FORM);
    Site *site = house.site;
    const StandInSend *called, *told;

    (void)state;
    to(&house, "2026-03-02T08:31:00Z");
    stand_in_put(house.gateway, ADA, "done 5. but chest tightness since this morning", NULL);
    to(&house, "2026-03-02T08:33:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "ring 999 now", &told), 1);
    assert_null(strstr(told->text, "Ada"));
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "NOW ", &called), 1);
    assert_non_null(strstr(called->text, house.ada));
    assert_null(strstr(called->text, "Ada"));
    assert_int_equal(stand_in_sent(house.gateway, ADA, "We have told your clinic", NULL), 1);

    json_t *alerts = site_ask(site, "alerts");
    json_t *alert = json_array_get(alerts, 0);
    assert_int_equal(json_array_size(alerts), 1);
    look_json(alert, "{\"kind\":\"heart\",\"class\":\"now\",\"state\":\"open\"}");
    look_is(alert, "client", house.ada);
    g_autofree char *id = look_copy(alert, "alert");
    g_autofree char *short_code = look_copy(alert, "code");
    assert_true(strncmp(id, short_code, strlen(short_code)) == 0 && strlen(short_code) >= 3);
    assert_true(json_array_size(json_object_get(alert, "reasons")) > 0);
    json_decref(alerts);

    /* A wrong code, the right one from another number, and the right one beside a no take nothing. */
    g_autofree char *code = take_code(called);
    g_autofree char *wrong = g_strdup_printf("take %04d", (atoi(code) + 1) % 10000);
    g_autofree char *right = g_strconcat("TAKE ", code, NULL);
    g_autofree char *cannot = g_strdup_printf("can't take %s, at the dentist", code);
    stand_in_put(house.gateway, OKAFOR, wrong, NULL);
    stand_in_put(house.gateway, OKAFOR, cannot, NULL);
    stand_in_put(house.gateway, LINDQVIST, right, NULL);
    to(&house, "2026-03-02T08:40:00Z");
    json_t *open = site_ask(site, "alerts");
    look_is(json_array_get(open, 0), "state", "open");
    json_decref(open);
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "your answer says no", NULL), 1);
    stand_in_put(house.gateway, OKAFOR, right, NULL);
    to(&house, "2026-03-02T08:42:00Z");
    json_t *taken = site_ask(site, "alerts");
    look_is(json_array_get(taken, 0), "state", "taken");
    look_is(json_array_get(taken, 0), "taken_by", "R. Okafor");
    json_decref(taken);
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "is yours", NULL), 1);
    /* Taken in time: nobody else is called. */
    to(&house, "2026-03-02T09:20:00Z");
    assert_int_equal(stand_in_sent(house.gateway, LINDQVIST, "NOW ", NULL), 0);

    /* Taking lifts no hold: the next day's session is excused and nothing asks for it. */
    to(&house, "2026-03-03T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    json_t *sessions = site_ask(site, "sessions %s --from 2026-03-03 --days 1", house.ada);
    look_is(json_array_get(sessions, 0), "state", "excused");
    json_decref(sessions);
    site_fails(site, 65, "outcome", "alert close %s --outcome better --by 'R. Okafor'", short_code);
    json_decref(site_ask(site, "alert close %s --outcome resume --by 'R. Okafor' --note 'seen'",
                         short_code));
    to(&house, "2026-03-04T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "You may go on", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 2);
    house_close(&house);
}

/* Four digits can be found by trying, by whoever sends with a clinician's number: so trying ends. */
static void codes_are_not_found_by_trying(void **state)
{
    House house = house_open(SPEAKS_FORM);
    const StandInSend *called;

    (void)state;
    to(&house, "2026-03-02T08:31:00Z");
    stand_in_put(house.gateway, ADA, "chest tightness since this morning", NULL);
    to(&house, "2026-03-02T08:33:00Z");
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "NOW ", &called), 1);
    g_autofree char *code = take_code(called);
    g_autofree char *right = g_strconcat("take ", code, NULL);
    g_autoptr(GString) many = g_string_new("take");
    for (int i = 1; i <= 40; i++)
        g_string_append_printf(many, " %04d", (atoi(code) + i) % 10000);
    g_string_append_printf(many, " %s", code);
    stand_in_put(house.gateway, OKAFOR, many->str, NULL);
    stand_in_put(house.gateway, OKAFOR, right, NULL);
    to(&house, "2026-03-02T08:40:00Z");
    json_t *alerts = site_ask(house.site, "alerts");
    look_is(json_array_get(alerts, 0), "state", "open");
    json_decref(alerts);
    json_t *unread = site_ask(house.site, "unread");
    g_assert_nonnull(
        strstr(json_string_value(json_object_get(look_only(unread, "from", OKAFOR), "why")),
               "too many wrong codes"));
    json_decref(unread);
    /* An hour later the code serves again. */
    to(&house, "2026-03-02T09:45:00Z");
    stand_in_put(house.gateway, OKAFOR, right, NULL);
    to(&house, "2026-03-02T09:48:00Z");
    alerts = site_ask(house.site, "alerts");
    look_is(json_array_get(alerts, 0), "state", "taken");
    json_decref(alerts);
    house_close(&house);
}

static void an_alert_that_nobody_takes_goes_down_the_list(void **state)
{
    House house = house_open(SPEAKS_JSON);

    (void)state;
    to(&house, "2026-03-02T22:00:00Z");
    stand_in_put(house.gateway, ADA, "face drooping and words slurred", NULL);
    to(&house, "2026-03-02T22:02:00Z");
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "NOW ", NULL), 1);
    /* the welcome, what to do, and that somebody was called */
    assert_int_equal(stand_in_sent(house.gateway, ADA, "999", NULL), 3);
    assert_int_equal(stand_in_sent(house.gateway, LINDQVIST, NULL, NULL), 0);
    to(&house, "2026-03-02T22:20:00Z");
    assert_int_equal(stand_in_sent(house.gateway, LINDQVIST, "TAKE ", NULL), 1);
    int mails = stand_in_mails(house.gateway);
    to(&house, "2026-03-02T22:50:00Z");
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "AGAIN", NULL), 1);
    assert_int_equal(stand_in_mails(house.gateway), mails + 1);
    house_close(&house);
}

/* --- commands, quiet hours, receipts, digest --- */

static void stop_is_obeyed_and_a_warning_after_it_still_heard(void **state)
{
    House house = house_open(SPEAKS_JSON);

    (void)state;
    to(&house, "2026-03-02T08:31:00Z");
    stand_in_put(house.gateway, ADA, "HELP", NULL);
    to(&house, "2026-03-02T08:33:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "texts about your stretches", NULL), 1);
    stand_in_put(house.gateway, ADA, "Stop", NULL);
    to(&house, "2026-03-02T08:35:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "no more messages", NULL), 1);
    int before = stand_in_sent(house.gateway, ADA, NULL, NULL);
    to(&house, "2026-03-04T12:00:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, NULL, NULL), before);
    json_t *client = site_ask(house.site, "client show %s", house.ada);
    look_is(client, "standing", "stopped");
    json_decref(client);
    for (int i = 0; i < 2; i++) { /* one safety text for that stop, and no more */
        stand_in_put(house.gateway, ADA, "my left calf is swollen and hot", NULL);
        to(&house, i == 0 ? "2026-03-04T12:05:00Z" : "2026-03-04T12:10:00Z");
        assert_int_equal(stand_in_sent(house.gateway, ADA, NULL, NULL), before + 1);
    }
    json_t *alerts = site_ask(house.site, "alerts");
    only(alerts, "kind", "clot");
    only(alerts, "kind", "stopped");
    json_decref(alerts);
    stand_in_put(house.gateway, ADA, "START", NULL);
    to(&house, "2026-03-04T12:15:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "reminders begin again", NULL), 0);
    assert_int_equal(stand_in_sent(house.gateway, ADA, NULL, NULL), before + 2);
    house_close(&house);
}

static void nothing_starts_in_quiet_hours(void **state)
{
    House house = house_open(SPEAKS_JSON);
    long status;

    (void)state;
    to(&house, "2026-03-02T23:30:00Z");
    int before = stand_in_count(house.gateway);
    g_autofree char *night = site_client(house.site, "+442079460002", "09:00");
    to(&house, "2026-03-03T07:59:00Z");
    assert_int_equal(stand_in_count(house.gateway), before);
    to(&house, "2026-03-03T08:01:00Z");
    assert_int_equal(stand_in_sent(house.gateway, "+442079460002", "writes to you about", NULL), 1);
    /* The client's own clock counts: 08:30 in New York is 13:30 in London. */
    g_autofree char *far = site_client(house.site, "+442079460003", "09:00");
    g_autofree char *path = g_strdup_printf("/clients/%s", far);
    json_decref(site_call(house.site, "POST", path, json_pack("{s:s}", "zone", "America/New_York"),
                          &status));
    to(&house, "2026-03-03T13:59:00Z");
    assert_int_equal(stand_in_sent(house.gateway, "+442079460003", "time for", NULL), 0);
    to(&house, "2026-03-03T14:01:00Z");
    assert_int_equal(stand_in_sent(house.gateway, "+442079460003", "time for", NULL), 1);
    house_close(&house);
}

/* A sign is answered at any hour, and so is that somebody was called: whoever wrote just now is awake. */
static void a_sign_at_night_is_answered_whole(void **state)
{
    House house = house_open(SPEAKS_JSON);

    (void)state;
    to(&house, "2026-03-02T23:30:00Z");
    stand_in_put(house.gateway, ADA, "chest feels tight", NULL);
    to(&house, "2026-03-02T23:32:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "ring 999 now", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, OKAFOR, "NOW ", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, ADA, "We have told your clinic", NULL), 1);
    house_close(&house);
}

static void a_digest_is_mailed_on_monday(void **state)
{
    House house = house_open(SPEAKS_JSON);

    (void)state;
    to(&house, "2026-03-02T08:31:00Z");
    stand_in_put(house.gateway, ADA, "did them all, 3, no pain", NULL);
    to(&house, "2026-03-09T08:01:00Z");
    /* Before it came mails about three missed days that nobody took up. */
    const StandInSend *mail = stand_in_mail(house.gateway, stand_in_mails(house.gateway) - 1);
    assert_non_null(strstr(mail->to, "desk@clinic.example"));
    assert_non_null(mail->id);
    assert_non_null(strstr(mail->text, "text/html"));
    assert_non_null(strstr(mail->text, "1 of 7 done"));
    g_autofree char *text = NULL;
    assert_int_equal(site_osier(house.site, &text, NULL, "week --of 2026-03-04 --format text"), 0);
    assert_non_null(strstr(text, "1 of 7 done"));
    house_close(&house);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_session_is_asked_once_and_its_answer_counted),
        cmocka_unit_test(no_answer_brings_one_nudge_and_then_silence),
        cmocka_unit_test(a_warning_sign_reaches_client_and_clinician),
        cmocka_unit_test(codes_are_not_found_by_trying),
        cmocka_unit_test(an_alert_that_nobody_takes_goes_down_the_list),
        cmocka_unit_test(stop_is_obeyed_and_a_warning_after_it_still_heard),
        cmocka_unit_test(nothing_starts_in_quiet_hours),
        cmocka_unit_test(a_sign_at_night_is_answered_whole),
        cmocka_unit_test(a_digest_is_mailed_on_monday),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
