/* SPDX-License-Identifier: Apache-2.0 */
/* Replies and receipts that a gateway posts: every signature scheme, right and wrong, over a real
 * listener. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

/* Ada has been asked at half past eight. */
static Solo door_open(Speech speech)
{
    Solo door = solo_open(speech, "08:30");

    solo_to(&door, "2026-03-02T08:31:00Z");
    return door;
}

static long post(const Solo *door, const char *path, const char *const *headers, const char *body)
{
    return site_post(door->port, path, headers, body, strlen(body));
}

static int replies(const Solo *door, const char *state)
{
    json_t *list = site_ask(door->site, "replies");
    int n = state != NULL ? look_count(list, "state", state) : (int)json_array_size(list);

    json_decref(list);
    return n;
}

static char *mac_base64(const void *key, size_t key_length, const char *text)
{
    GHmac *hmac = g_hmac_new(G_CHECKSUM_SHA256, key, key_length);
    guint8 digest[32];
    gsize length = sizeof digest;

    g_hmac_update(hmac, (const guchar *)text, -1);
    g_hmac_get_digest(hmac, digest, &length);
    g_hmac_unref(hmac);
    return g_base64_encode(digest, length);
}

/* --- the schemes --- */

static void an_unsigned_reply_is_heard_on_the_loopback(void **state)
{
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};
    const char *body = "{\"msg\":{\"uid\":91,\"who\":\"020 7946 0001\",\"content\":\"D 3 P1\","
                       "\"when\":1772440800}}"; /* 08:40 */

    (void)state;
    assert_int_equal(post(&door, "/in/texts", json, body), 200);
    /* Answered means stored, and the gateway may say it again. */
    assert_int_equal(replies(&door, "read"), 1);
    assert_int_equal(post(&door, "/in/texts", json, body), 200);
    assert_int_equal(replies(&door, NULL), 1);
    /* Another delivery id for the same words at the same time is the same reply. */
    assert_int_equal(post(&door, "/in/texts", json,
                          "{\"msg\":{\"uid\":92,\"who\":\"+442079460001\",\"content\":\"D 3 P1\","
                          "\"when\":\"2026-03-02T08:40:00Z\"}}"),
                     200);
    json_t *list = site_ask(door.site, "replies");
    assert_int_equal(json_array_size(list), 1);
    json_decref(list);
    json_t *sessions = site_ask(door.site, "sessions %s --from 2026-03-02 --days 1", door.ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
    assert_int_equal(post(&door, "/in/other", json, body), 404);
    solo_close(&door);
}

/* A modem that was started anew counts from one again, and another tells of a text before it has all of it: words that come under an
 * id that was there are not lost. Told again, with other spaces or the number written in another way, they are the same. */
static void words_under_an_id_that_was_there_are_not_lost(void **state)
{
    static const struct {
        const char *body;
        int replies; /* there are so many then */
    } TOLD[] = {
        {"{\"msg\":{\"uid\":1,\"who\":\"" ADA "\",\"content\":\"D 3 P1\"}}", 1},
        {"{\"msg\":{\"uid\":1,\"who\":\"020 7946 0001\",\"content\":\" D 3  P1\"}}", 1},
        {"{\"msg\":{\"uid\":1,\"who\":\"" ADA "\",\"content\":\"STOP\"}}", 2},
        {"{\"msg\":{\"uid\":1,\"who\":\"" ADA "\",\"content\":\"STOP\"}}", 2},
        {"{\"msg\":{\"uid\":1,\"who\":\"+442079460002\",\"content\":\"STOP\"}}", 3},
        {"{\"msg\":{\"uid\":2}}", 4},
        {"{\"msg\":{\"uid\":2,\"who\":\"" ADA "\",\"content\":\"I have chest pain\"}}", 5},
    };
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(TOLD); i++) {
        long status = post(&door, "/in/texts", json, TOLD[i].body);
        assert_int_equal(status, i == 5 ? 202 : 200);
        assert_int_equal(replies(&door, NULL), TOLD[i].replies);
    }
    assert_int_equal(replies(&door, "command"), 1);
    json_t *alerts = site_ask(door.site, "alerts");
    g_assert_nonnull(look_only(alerts, "kind", "heart"));
    json_decref(alerts);
    solo_close(&door);
}

/* "ok thanks" reports nothing, and asks nothing: it stays on no pile, but a person sees it once. */
static void thanks_alone_are_glanced_at(void **state)
{
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state;
    assert_int_equal(post(&door, "/in/texts", json,
                          "{\"msg\":{\"uid\":7,\"who\":\"" ADA "\",\"content\":\"ok thanks\","
                          "\"when\":1772440800}}"),
                     200);
    assert_int_equal(replies(&door, "read"), 1);
    json_t *glance = site_ask(door.site, "glance");
    assert_int_equal(json_array_size(glance), 1);
    look_is(json_array_get(glance, 0), "text", "ok thanks");
    json_decref(glance);
    json_t *sessions = site_ask(door.site, "sessions %s --from 2026-03-02 --days 1", door.ada);
    look_is(json_array_get(sessions, 0), "state", "asked");
    json_decref(sessions);
    solo_close(&door);
}

static void an_hmac_holds_for_its_own_body_only(void **state)
{
    Solo door = door_open(SPEAKS_FORM);
    const char *body = "Sid=SM1&From=%2B442079460001&Body=done+6+%26+no+pain";
    g_autofree char *mac = mac_base64(HOOK_KEY, strlen(HOOK_KEY), body);
    g_autofree char *good = g_strconcat("X-Sign: v=", mac, NULL);
    g_autofree char *bare = g_strconcat("X-Sign: ", mac, NULL);
    const char *form = "Content-Type: application/x-www-form-urlencoded";

    (void)state;
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){form, NULL}, body), 401);
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){form, bare, NULL}, body), 401);
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){form, good, NULL},
                          "Sid=SM1&From=%2B442079460001&Body=done+7"),
                     401);
    assert_int_equal(replies(&door, NULL), 0);
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){form, good, NULL}, body), 200);
    json_t *list = site_ask(door.site, "replies --client %s", door.ada);
    look_is(json_array_get(list, 0), "text", "done 6 & no pain");
    look_json(json_object_get(json_array_get(list, 0), "reading"),
              "{\"done\":\"yes\",\"intensity\":6,\"pain\":0}");
    json_decref(list);
    solo_close(&door);
}

static void a_token_must_be_whole(void **state)
{
    Solo door = door_open(SPEAKS_QUERY);
    const char *body = "{\"id\":\"a\",\"from\":\"+442079460001\",\"text\":\"N\"}";

    (void)state;
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){"X-Token: a key", NULL}, body),
                     401);
    assert_int_equal(post(&door, "/in/texts", (const char *const[]){"X-Token;", NULL}, body), 401);
    assert_int_equal(
        post(&door, "/in/texts", (const char *const[]){"X-Token: " HOOK_KEY, NULL}, body), 200);
    json_t *sessions = site_ask(door.site, "sessions %s --from 2026-03-02 --days 1", door.ada);
    look_is(json_array_get(sessions, 0), "state", "not");
    json_decref(sessions);
    solo_close(&door);
}

/* A post signed as the standard says, for that many seconds from now. */
static long post_signed(const Solo *door, const char *id, gint64 ahead_s, const char *body)
{
    gint64 at = g_get_real_time() / G_USEC_PER_SEC + ahead_s;
    g_autofree char *text = g_strdup_printf("%s.%" G_GINT64_FORMAT ".%s", id, at, body);
    gsize key_length;
    g_autofree guchar *key = g_base64_decode(HOOK_SECRET + strlen("whsec_"), &key_length);
    g_autofree char *mac = mac_base64(key, key_length, text);
    g_autofree char *first = g_strdup_printf("webhook-id: %s", id);
    g_autofree char *second = g_strdup_printf("webhook-timestamp: %" G_GINT64_FORMAT, at);
    g_autofree char *third = g_strdup_printf("webhook-signature: v1,AAAA v1,%s", mac);

    return post(door, "/in/texts", (const char *const[]){first, second, third, NULL}, body);
}

static void a_standard_signature_holds_for_five_minutes(void **state)
{
    Solo door = door_open(SPEAKS_SIGNED);
    const char *body = "{\"id\":\"m1\",\"from\":\"+442079460001\",\"text\":\"did half of it\"}";

    (void)state;
    /* Judged by the real clock: under a made-up one, too. */
    assert_int_equal(post_signed(&door, "msg_1", -400, body), 401);
    assert_int_equal(post_signed(&door, "msg_1", 400, body), 401);
    assert_int_equal(post(&door, "/in/texts", NULL, body), 401);
    assert_int_equal(post_signed(&door, "msg_1", 0, body), 200);
    assert_int_equal(post_signed(&door, "msg_1", -1, body), 200);
    assert_int_equal(replies(&door, NULL), 1);
    json_t *sessions = site_ask(door.site, "sessions %s --from 2026-03-02 --days 1", door.ada);
    look_is(json_array_get(sessions, 0), "state", "partly");
    json_decref(sessions);
    /* Signed, but nothing that can be read: kept for a person. */
    assert_int_equal(post_signed(&door, "msg_2", 0, "{\"id\":\"m2\",\"from\":7}"), 202);
    assert_int_equal(post_signed(&door, "msg_3", 0, "<xml/>"), 202);
    assert_int_equal(replies(&door, "unread"), 2);
    /* What bears no id is known by the call's: played again, it is the same one. */
    assert_int_equal(post_signed(&door, "msg_3", -20, "<xml/>"), 202);
    assert_int_equal(replies(&door, "unread"), 2);
    assert_int_equal(post_signed(&door, "msg_4", 0, "<xml/>"), 202);
    assert_int_equal(replies(&door, "unread"), 3);
    solo_close(&door);
}

/* --- by the real clock --- */

static void wait_for_safety(const Solo *door, const char *holds)
{
    const StandInSend *send;

    for (int turn = 0; turn < 2000; turn++) {
        if (stand_in_sent(door->gateway, ADA, holds, &send) > 0) return;
        g_usleep(10000);
    }
    fail_msg("no text with '%s' came", holds);
}

static void what_is_read_hours_late_says_so(void **state)
{
    static const struct {
        int64_t ago_s;
        const char *holds;
    } CASES[] = {
        {5 * 3600, "We have only just read your text"},
        {60, "Stop and rest"},
        {-3600, "Stop and rest"},     /* an hour ahead is no time to go by */
        {90 * 3600, "Stop and rest"}, /* nor is one of last week */
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        Solo door = {.site = site_new(),
                     .gateway = stand_in_new(speech_map(SPEAKS_JSON)),
                     .port = site_free_port()};
        site_use(door.site, door.gateway, SPEAKS_JSON, door.port);
        assert_int_equal(site_start(door.site, NULL), 0);
        door.ada = site_client(door.site, ADA, "09:00");
        g_autofree char *body =
            g_strdup_printf("{\"msg\":{\"uid\":1,\"who\":\"" ADA
                            "\",\"content\":\"chest pain\",\"when\":%" G_GINT64_FORMAT "}}",
                            g_get_real_time() / G_USEC_PER_SEC - CASES[i].ago_s);
        assert_int_equal(post(&door, "/in/texts", NULL, body), 200);
        wait_for_safety(&door, CASES[i].holds);
        solo_close(&door);
    }
}

/* --- receipts --- */

static json_t *messages_of(const Solo *door, const char *kind)
{
    json_t *list = site_ask(door->site, "messages --client %s", door->ada);
    json_t *message = json_incref(look_only(list, "kind", kind));

    json_decref(list);
    return message;
}

static void receipts_move_the_fate_and_never_back(void **state)
{
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state; /* the welcome was the gateway's number 1, the reminder number 2 */
    assert_int_equal(post(&door, "/receipts", json, "{\"ref\":{\"id\":2},\"state\":\"DELIVRD\"}"),
                     200);
    json_t *message = messages_of(&door, "reminder");
    look_is(message, "fate", "delivered");
    json_decref(message);
    post(&door, "/receipts", json, "{\"ref\":{\"id\":\"2\"},\"state\":\"ACCEPTD\"}");
    message = messages_of(&door, "reminder");
    look_is(message, "fate", "delivered");
    json_decref(message);
    assert_true(post(&door, "/receipts", json, "{\"ref\":{\"id\":99},\"state\":\"DELIVRD\"}") <
                300);
    assert_true(post(&door, "/receipts", json, "[]") < 300);
    solo_close(&door);
}

/* The reminder of 08:30 has a receipt, the welcome has none. */
static void a_receipt_that_does_not_come_is_shown(void **state)
{
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state;
    post(&door, "/receipts", json, "{\"ref\":{\"id\":2},\"state\":\"DELIVRD\"}");
    json_t *message = messages_of(&door, "welcome");
    look_is(message, "receipt", "awaited");
    json_decref(message);
    assert_true(site_clock(door.site, "2026-03-03T08:10:00Z"));
    message = messages_of(&door, "welcome");
    look_is(message, "fate", "accepted");
    look_is(message, "receipt", "late");
    json_decref(message);
    json_t *status = site_ask(door.site, "status");
    assert_int_equal(json_integer_value(json_object_get(status, "no_receipt")), 1);
    json_decref(status);
    solo_close(&door);
}

/* The gateway's word about its number 3 comes before osier has heard that the message got that number. */
static void a_receipt_may_overtake_the_answer(void **state)
{
    static const struct {
        const char *word;
        const char *fate;
    } WORDS[] = {{"DELIVRD", "delivered"}, {"EXPIRED", "failed"}, {"ACCEPTD", "accepted"}};
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++) {
        Solo door = door_open(SPEAKS_JSON);
        g_autofree char *body =
            g_strdup_printf("{\"ref\":{\"id\":3},\"state\":\"%s\"}", WORDS[i].word);
        assert_int_equal(post(&door, "/receipts", json, body), 200);
        assert_true(site_clock(door.site, "2026-03-02T12:40:00Z"));
        json_t *message = messages_of(&door, "nudge");
        look_is(message, "fate", WORDS[i].fate);
        json_decref(message);
        solo_close(&door);
    }
}

static void a_failed_receipt_makes_the_session_unasked(void **state)
{
    Solo door = door_open(SPEAKS_JSON);
    const char *const json[] = {"Content-Type: application/json", NULL};

    (void)state;
    assert_int_equal(post(&door, "/receipts", json, "{\"ref\":{\"id\":2},\"state\":\"UNDELIV\"}"),
                     200);
    json_t *message = messages_of(&door, "reminder");
    look_is(message, "fate", "failed");
    json_decref(message);
    json_t *sessions = site_ask(door.site, "sessions %s --from 2026-03-02 --days 1", door.ada);
    look_is(json_array_get(sessions, 0), "state", "unasked");
    json_decref(sessions);
    json_t *alerts = site_ask(door.site, "alerts");
    g_assert_nonnull(look_only(alerts, "kind", "undeliverable"));
    json_decref(alerts);
    solo_close(&door);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_unsigned_reply_is_heard_on_the_loopback),
        cmocka_unit_test(words_under_an_id_that_was_there_are_not_lost),
        cmocka_unit_test(thanks_alone_are_glanced_at),
        cmocka_unit_test(an_hmac_holds_for_its_own_body_only),
        cmocka_unit_test(a_token_must_be_whole),
        cmocka_unit_test(a_standard_signature_holds_for_five_minutes),
        cmocka_unit_test(what_is_read_hours_late_says_so),
        cmocka_unit_test(receipts_move_the_fate_and_never_back),
        cmocka_unit_test(a_receipt_may_overtake_the_answer),
        cmocka_unit_test(a_receipt_that_does_not_come_is_shown),
        cmocka_unit_test(a_failed_receipt_makes_the_session_unasked),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
