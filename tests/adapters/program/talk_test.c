/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/program/talk.h"

static void read_line(const char *line, TalkType type, Talk *talk)
{
    talk_read(line, strlen(line), talk);
    if (talk->type != type) fail_msg("%s: type %d", line, (int)talk->type);
}

static void what_a_program_says(void **state)
{
    g_auto(Talk) hello, fate, receipt, incoming, health;

    (void)state;
    read_line("{\"type\":\"hello\",\"version\":1,\"more\":{}}", TALK_HELLO, &hello);
    assert_int_equal(hello.version, 1);
    read_line("{\"type\":\"fate\",\"id\":\"aa\",\"fate\":\"later\",\"after\":90,\"reason\":"
              "\"no\\nsignal\"}",
              TALK_FATE, &fate);
    assert_string_equal(fate.id, "aa");
    assert_int_equal(fate.settlement.fate, FATE_WAITING);
    assert_int_equal(fate.settlement.retry_after_s, 90);
    assert_string_equal(fate.settlement.reason, "no signal");
    read_line("{\"type\":\"receipt\",\"gateway_id\":\"7\",\"fate\":\"failed\"}", TALK_RECEIPT,
              &receipt);
    assert_int_equal(receipt.receipt->fate, FATE_FAILED);
    read_line("{\"type\":\"incoming\",\"id\":\"9\",\"from\":\"+442079460001\",\"text\":\"done 4\","
              "\"at\":\"2026-03-02T08:31:00Z\"}",
              TALK_INCOMING, &incoming);
    assert_string_equal(incoming.incoming->text, "done 4");
    assert_int_equal(incoming.incoming->at_ms, 1772440260000); /* date -ud 2026-03-02T08:31Z +%s */
    read_line("{\"type\":\"health\",\"well\":false,\"words\":\"no card\"}", TALK_HEALTH, &health);
    assert_false(health.well);
    assert_string_equal(health.words, "no card");
}

static void what_is_incomplete_goes_to_a_person(void **state)
{
    static const char *const LINES[] = {"{\"type\":\"incoming\",\"id\":\"9\",\"text\":\"done 4\"}",
                                        "{\"type\":\"incoming\",\"id\":\"9\",\"from\":\"+44\"}"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(LINES); i++) {
        g_auto(Talk) talk;
        read_line(LINES[i], TALK_INCOMING, &talk);
        assert_non_null(talk.incoming->problem);
        assert_string_equal(talk.incoming->raw, LINES[i]);
        assert_int_equal(talk.incoming->at_ms, -1);
    }
}

/* Any year is an instant (RFC 3339), but none before 1970 is when a text came in: then it is as if no time had been given. Found by
 * make fuzz TARGET=program. */
static void a_time_before_1970_is_none(void **state)
{
    static const char *const TIMES[] = {"1013-03-02T08:31:00Z", "1969-12-31T23:59:59Z", "yesterday",
                                        ""};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(TIMES); i++) {
        g_autofree char *line = g_strdup_printf(
            "{\"type\":\"incoming\",\"id\":\"9\",\"from\":\"+442079460001\",\"text\":\"done 4\","
            "\"at\":\"%s\"}",
            TIMES[i]);
        g_auto(Talk) talk;
        read_line(line, TALK_INCOMING, &talk);
        assert_null(talk.incoming->problem);
        assert_int_equal(talk.incoming->at_ms, -1);
    }
}

static void what_means_nothing(void **state)
{
    static const char *const BROKEN[] = {
        "",
        "hello",
        "[1]",
        "{}",
        "{\"type\":7}",
        "{\"type\":\"fate\",\"fate\":\"accepted\"}",
        "{\"type\":\"fate\",\"id\":\"a\",\"fate\":\"sent\"}",
        "{\"type\":\"fate\",\"id\":\"a\"}",
        "{\"type\":\"receipt\",\"gateway_id\":\"7\",\"fate\":\"read\"}",
        "{\"type\":\"incoming\",\"from\":\"+44\",\"text\":\"x\"}",
        "{\"type\":\"hello\",\"type\":\"hello\"}",
        "{\"type\":\"health\",\"words\":\"\xff\"}"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(BROKEN); i++) {
        g_auto(Talk) talk;
        read_line(BROKEN[i], TALK_BROKEN, &talk);
        assert_non_null(talk.words);
    }
    g_auto(Talk) later;
    read_line("{\"type\":\"of-a-later-version\"}", TALK_UNKNOWN, &later);
}

static void what_it_is_told(void **state)
{
    const Outgoing message = {.id = "aa", .to = "+442079460001", .text = "a \"b\"\nc"};
    g_autofree char *send = talk_send(&message);
    g_autofree char *hello = talk_hello("modem");
    g_autofree char *ask = talk_ask("aa");
    g_autofree char *taken = talk_taken("9\"");

    (void)state;
    assert_string_equal(send, "{\"type\":\"send\",\"id\":\"aa\",\"to\":\"+442079460001\","
                              "\"text\":\"a \\\"b\\\"\\nc\"}");
    assert_string_equal(hello, "{\"type\":\"hello\",\"version\":1,\"gateway\":\"modem\"}");
    assert_string_equal(ask, "{\"type\":\"ask\",\"id\":\"aa\"}");
    assert_string_equal(taken, "{\"type\":\"taken\",\"id\":\"9\\\"\"}");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_program_says),
        cmocka_unit_test(what_is_incomplete_goes_to_a_person),
        cmocka_unit_test(a_time_before_1970_is_none),
        cmocka_unit_test(what_means_nothing),
        cmocka_unit_test(what_it_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
