/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/support/gateways.h"

static const char GATEWAY[] =
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://gateway.example/send\","
    "\"json\":{\"to\":\"{to}\",\"text\":\"{text}\"}},"
    "\"poll\":{\"url\":\"https://gateway.example/in?after={cursor}\",\"every\":\"30s\","
    "\"headers\":{\"Authorization\":\"Bearer {secret:texts.key}\"},"
    "\"items\":\"/messages\",\"id\":\"/id\",\"from\":\"/from\",\"text\":\"/text\",\"at\":\"/at\","
    "\"cursor\":\"/next\"},"
    "\"webhook\":{\"path\":\"/in/texts\",\"id\":\"/Sid\",\"from\":\"/From\",\"text\":\"/Body\","
    "\"signature\":{\"scheme\":\"token\",\"header\":\"X-Token\",\"secret\":\"{secret:hook}\"}},"
    "\"receipts\":{\"webhook\":{\"path\":\"/receipts/texts\",\"id\":\"/id\",\"status\":\"/status\","
    "\"delivered\":[\"delivered\"],\"failed\":[\"failed\",\"expired\"],"
    "\"signature\":{\"scheme\":\"token\",\"header\":\"X-Token\",\"secret\":\"{secret:hook}\"}}}}";

typedef struct {
    Clinic *clinic;
    const Gateway *gateway;
    GPtrArray *items;
    char *cursor;
    char *why;
} Case;

static int set_up(void **state)
{
    Case *now = g_new0(Case, 1);

    now->clinic = clinic_with_gateway(GATEWAY);
    now->gateway = clinic_gateway(now->clinic, "texts");
    now->items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    *state = now;
    return 0;
}

static int tear_down(void **state)
{
    Case *now = *state;

    g_ptr_array_unref(now->items);
    g_free(now->cursor);
    g_free(now->why);
    clinic_free(now->clinic);
    g_free(now);
    return 0;
}

/* Reads this body as a poll's answer. */
static bool read_bytes(Case *now, const char *body, size_t length)
{
    g_autoptr(WireResponse) response = wire_response_new(PHASE_ANSWERED, 200, NULL, NULL);

    g_bytes_unref(response->body);
    response->body = g_bytes_new(body, length);
    return sms_poll_read(now->gateway, response, now->items, &now->cursor, &now->why);
}

static const Incoming *item(const Case *now, guint index)
{
    assert_true(index < now->items->len);
    return g_ptr_array_index(now->items, index);
}

static void the_cursor_stands_in_the_url(void **state)
{
    Case *now = *state;
    g_autoptr(WireRequest) first = sms_poll_request(now->gateway, "", test_secret, NULL, &now->why);
    g_autoptr(WireRequest) next =
        sms_poll_request(now->gateway, "a b&c", test_secret, NULL, &now->why);

    assert_string_equal(first->url, "https://gateway.example/in?after=");
    assert_string_equal(next->url, "https://gateway.example/in?after=a%20b%26c");
    assert_string_equal(next->method, "GET");
    assert_true(next->repeatable);
    assert_string_equal(g_ptr_array_index(next->headers, 0), "Authorization: Bearer k-texts.key");
}

static void messages_are_read_leniently(void **state)
{
    Case *now = *state;
    const char *body =
        "{\"messages\":[{\"id\":41,\"from\":447700900123,\"text\":\"D 4 P0\",\"at\":1774857600},"
        "{\"id\":\"x\",\"from\":\"+447700900124\",\"text\":7,\"at\":\"2026-03-30T08:00:00+01:00\"},"
        "{\"id\":\"y\",\"from\":\"07700 900125\",\"text\":\"\",\"at\":\"1774857600123\"},"
        "{\"from\":\"a\",\"text\":\"nul \\u0000 here\",\"at\":\"tomorrow\"}],\"next\":99}";

    assert_true(read_bytes(now, body, strlen(body)));
    assert_int_equal(now->items->len, 4);
    assert_string_equal(now->cursor, "99");
    assert_string_equal(item(now, 0)->id, "41");
    assert_string_equal(item(now, 0)->from, "447700900123");
    assert_true(item(now, 0)->at_ms == INT64_C(1774857600000));
    assert_string_equal(item(now, 1)->text, "7");
    assert_true(item(now, 1)->at_ms == INT64_C(1774854000000));
    assert_string_equal(item(now, 2)->text, "");
    assert_true(item(now, 2)->at_ms == INT64_C(1774857600123));
    assert_string_equal(item(now, 3)->text, "nul \xef\xbf\xbd here");
    assert_null(item(now, 3)->id);
    assert_true(item(now, 3)->at_ms == -1);
    for (guint i = 0; i < 4; i++)
        assert_null(item(now, i)->problem);
}

static void one_bad_item_goes_to_a_person_and_the_rest_is_read(void **state)
{
    Case *now = *state;
    const char *body = "{\"messages\":[17,{\"id\":\"1\",\"text\":\"who am I\"},"
                       "{\"id\":\"2\",\"from\":\"+447700900123\"},"
                       "{\"id\":\"3\",\"from\":\"+447700900123\",\"text\":{\"a\":1}},"
                       "{\"id\":\"4\",\"from\":\"+447700900123\",\"text\":\"fine\"}],"
                       "\"next\":\"n\"}";

    assert_true(read_bytes(now, body, strlen(body)));
    assert_int_equal(now->items->len, 5);
    assert_string_equal(now->cursor, "n");
    for (guint i = 0; i < 4; i++) {
        assert_non_null(item(now, i)->problem);
        assert_non_null(item(now, i)->raw);
    }
    assert_string_equal(item(now, 0)->raw, "17");
    assert_string_equal(item(now, 1)->text, "who am I");
    assert_null(item(now, 4)->problem);
}

static void bytes_that_are_no_utf8_are_kept_for_a_person(void **state)
{
    Case *now = *state;
    const char body[] = "{\"messages\":[{\"id\":1,\"from\":\"+447700900123\",\"text\":\"caf\xe9\"},"
                        "{\"id\":2,\"from\":\"+447700900123\",\"text\":\"D 4\"}]}";

    assert_true(read_bytes(now, body, sizeof body - 1));
    assert_string_equal(item(now, 0)->text, "caf\xef\xbf\xbd");
    assert_non_null(item(now, 0)->problem);
    assert_true(g_utf8_validate(item(now, 0)->raw, -1, NULL));
    assert_null(item(now, 1)->problem);
    assert_null(now->cursor);
}

static void an_answer_that_is_unreadable_as_a_whole_moves_nothing(void **state)
{
    Case *now = *state;
    const char *const bodies[] = {"<html>login</html>",
                                  "",
                                  "{\"messages\":[{\"id\":1}",
                                  "{\"messages\":{\"a\":1},\"next\":2}",
                                  "{\"next\":2}",
                                  "{\"messages\":[],\"messages\":[],\"next\":2}",
                                  "{\"messages\":\"none\",\"next\":2}"};

    for (size_t i = 0; i < G_N_ELEMENTS(bodies); i++) {
        assert_false(read_bytes(now, bodies[i], strlen(bodies[i])));
        assert_non_null(now->why);
        assert_null(now->cursor);
        assert_int_equal(now->items->len, 0);
        g_clear_pointer(&now->why, g_free);
    }
    g_autoptr(WireResponse) error = wire_response_new(PHASE_ANSWERED, 503, "{}", NULL);
    assert_false(sms_poll_read(now->gateway, error, now->items, &now->cursor, &now->why));
    assert_string_equal(now->why, "HTTP 503");
}

static void a_cursor_that_cannot_be_used_is_told_and_loses_no_message(void **state)
{
    Case *now = *state;
    g_autofree char *wide = g_strnfill(5000, '9');
    char *bodies[] = {g_strdup("{\"messages\":[{\"id\":1,\"from\":\"+447700900123\","
                               "\"text\":\"a\"}],\"next\":{\"after\":2}}"),
                      g_strdup_printf("{\"messages\":[{\"id\":2,\"from\":"
                                      "\"+447700900123\",\"text\":\"b\"}],"
                                      "\"next\":\"%s\"}",
                                      wide)};

    for (guint i = 0; i < 2; i++) {
        assert_true(read_bytes(now, bodies[i], strlen(bodies[i])));
        assert_int_equal(now->items->len, i + 1);
        assert_null(now->cursor);
        assert_non_null(strstr(now->why, "the cursor at '/next' is"));
        g_clear_pointer(&now->why, g_free);
        g_free(bodies[i]);
    }
}

static void no_more_pages_is_no_fault(void **state)
{
    static const char *const NONE[] = {"null", "false", "\"\""};
    Case *now = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(NONE); i++) {
        g_autofree char *body = g_strdup_printf("{\"messages\":[],\"next\":%s}", NONE[i]);
        assert_true(read_bytes(now, body, strlen(body)));
        assert_null(now->cursor);
        assert_null(now->why);
    }
}

static void nothing_new_is_read_as_nothing(void **state)
{
    Case *now = *state;
    const char *empty = "{\"messages\":[],\"next\":\"\"}";
    const char *null = "{\"messages\":null,\"next\":null}";

    assert_true(read_bytes(now, empty, strlen(empty)));
    assert_null(now->cursor);
    assert_true(read_bytes(now, null, strlen(null)));
    assert_null(now->cursor);
    assert_int_equal(now->items->len, 0);
}

static void a_webhook_brings_a_form_or_json(void **state)
{
    Case *now = *state;
    const WebhookMapping *mapping = now->gateway->webhook;
    const char *form = "Sid=SM1&From=%2B447700900123&Body=did+them%2C+a+4&Extra=";
    const char *json = "{\"Sid\":\"SM2\",\"From\":\"+447700900123\",\"Body\":\"D 4\"}";
    Incoming *one = webhook_read(mapping, "application/x-www-form-urlencoded; charset=utf-8", form,
                                 strlen(form));
    Incoming *two = webhook_read(mapping, "application/json", json, strlen(json));

    assert_string_equal(one->id, "SM1");
    assert_string_equal(one->from, "+447700900123");
    assert_string_equal(one->text, "did them, a 4");
    assert_null(one->problem);
    assert_string_equal(two->text, "D 4");
    assert_null(two->problem);
    incoming_free(one);
    incoming_free(two);
}

static void a_webhook_that_is_unreadable_is_kept_whole(void **state)
{
    Case *now = *state;
    const char *const bodies[] = {"<xml/>", "From=1&From=2&Body=x", "{\"Sid\":\"1\"", "",
                                  "\xff\xfe"};

    for (size_t i = 0; i < G_N_ELEMENTS(bodies); i++) {
        Incoming *incoming =
            webhook_read(now->gateway->webhook, NULL, bodies[i], strlen(bodies[i]));
        assert_non_null(incoming->problem);
        assert_true(g_utf8_validate(incoming->raw, -1, NULL));
        assert_true(incoming->at_ms == -1);
        incoming_free(incoming);
    }
    g_autofree char *huge = g_strnfill(300000, 'x');
    Incoming *incoming = webhook_read(now->gateway->webhook, "text/plain", huge, 300000);
    assert_int_equal(strlen(incoming->raw), 64 * 1024);
    incoming_free(incoming);
}

static void a_receipt_tells_what_became_of_it(void **state)
{
    const struct {
        const char *status;
        Fate fate;
    } cases[] = {{"\"delivered\"", FATE_DELIVERED},
                 {"\"Delivered\"", FATE_DELIVERED},
                 {"\"expired\"", FATE_FAILED},
                 {"\"queued\"", FATE_ACCEPTED},
                 {"3", FATE_ACCEPTED}};
    Case *now = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *body = g_strdup_printf("{\"id\":5,\"status\":%s}", cases[i].status);
        Receipt *receipt =
            receipt_read(now->gateway->receipts, "application/json", body, strlen(body));
        assert_string_equal(receipt->gateway_id, "5");
        assert_int_equal(receipt->fate, cases[i].fate);
        receipt_free(receipt);
    }
    assert_null(receipt_read(now->gateway->receipts, NULL, "{\"id\":5}", 8));
    assert_null(receipt_read(now->gateway->receipts, NULL, "nonsense", 8));
}

/* Bytes changed, cut and doubled at random: nothing crashes, and what comes out is text. */
static void damaged_bodies_give_text_or_a_reason(void **state)
{
    const char *const seeds[] = {
        "{\"messages\":[{\"id\":41,\"from\":\"+447700900123\",\"text\":\"D \\u00e9 4\","
        "\"at\":1774857600}],\"next\":99}",
        "Sid=SM1&From=%2B447700900123&Body=did+them%2C+a+4%00%FF&Extra="};
    const guint32 seed = 20261125;
    g_autoptr(GRand) random = g_rand_new_with_seed(seed);
    Case *now = *state;

    print_message("seed %u\n", seed);
    for (int round = 0; round < 20000; round++) {
        g_autofree char *body = g_strdup(seeds[round % 2]);
        size_t length = strlen(body);
        for (int change = g_rand_int_range(random, 1, 6); change > 0; change--)
            body[g_rand_int_range(random, 0, (gint32)length)] =
                (char)g_rand_int_range(random, 0, 256);
        if (round % 3 == 0) length = (size_t)g_rand_int_range(random, 0, (gint32)length);
        Incoming *incoming = webhook_read(now->gateway->webhook, NULL, body, length);
        assert_true(incoming->problem != NULL ||
                    (incoming->from != NULL && incoming->text != NULL));
        assert_true(incoming->text == NULL || g_utf8_validate(incoming->text, -1, NULL));
        assert_true(incoming->raw == NULL || g_utf8_validate(incoming->raw, -1, NULL));
        incoming_free(incoming);
        bool whole = read_bytes(now, body, length);
        assert_true(whole || now->why != NULL);
        g_ptr_array_set_size(now->items, 0);
        g_clear_pointer(&now->cursor, g_free);
        g_clear_pointer(&now->why, g_free);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_cursor_stands_in_the_url, set_up, tear_down),
        cmocka_unit_test_setup_teardown(messages_are_read_leniently, set_up, tear_down),
        cmocka_unit_test_setup_teardown(one_bad_item_goes_to_a_person_and_the_rest_is_read, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(bytes_that_are_no_utf8_are_kept_for_a_person, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(an_answer_that_is_unreadable_as_a_whole_moves_nothing,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_cursor_that_cannot_be_used_is_told_and_loses_no_message,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(no_more_pages_is_no_fault, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nothing_new_is_read_as_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_webhook_brings_a_form_or_json, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_webhook_that_is_unreadable_is_kept_whole, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(damaged_bodies_give_text_or_a_reason, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_receipt_tells_what_became_of_it, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
