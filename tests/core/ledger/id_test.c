/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/ledger/event.h"
#include "core/ledger/id.h"

/* Fixed once: what they name is in ledgers that were written before. Computed apart, over the same
 * bytes. */
static void ids_stay_what_they_are(void **state)
{
    g_autofree char *session = id_session("K7QF2M9T", "2026-03-02", 1);
    g_autofree char *message = id_message("reminder");
    g_autofree char *again = id_session("K7QF2M9T", "2026-03-02", 1);

    (void)state;
    assert_string_equal(session, "6F38905E1450B764CAF384153506FE1F");
    assert_string_equal(message, "D727000AAEE51F0F7B86683366FFFC0C");
    assert_string_equal(session, again);
}

static void parts_do_not_run_into_each_other(void **state)
{
    g_autofree char *one = id_of("ab", "c", NULL);
    g_autofree char *other = id_of("a", "bc", NULL);
    g_autofree char *longer = id_of("ab", "c", "", NULL);

    (void)state;
    assert_int_equal(strlen(one), 32);
    assert_string_not_equal(one, other);
    assert_string_not_equal(one, longer);
}

static void a_reply_is_known_by_its_gateway_id_or_its_fingerprint(void **state)
{
    g_autofree char *by_id = id_reply("texts", "g-17", "+442079460001", "did them", 5);
    g_autofree char *told_twice = id_reply("texts", "g-17", "+442079460001", "did  them", 6);
    g_autofree char *without = id_reply("texts", NULL, "+442079460001", "did them", 5);
    g_autofree char *without_again = id_reply("texts", NULL, "+442079460001", "did them", 5);
    g_autofree char *later = id_reply("texts", NULL, "+442079460001", "did them", 6);

    (void)state;
    assert_string_equal(by_id, told_twice);
    assert_string_equal(without, without_again);
    assert_string_not_equal(without, later);
    assert_string_not_equal(without, by_id);
}

static void client_ids_are_easy_to_read_out(void **state)
{
    g_autofree char *none = id_client(0);
    g_autofree char *all = id_client(UINT64_MAX);
    g_autofree char *forty = id_client((UINT64_C(1) << 40) - 1);

    (void)state;
    assert_string_equal(none, "22222222");
    assert_string_equal(all, forty);
    for (uint64_t bits = 1; bits < UINT64_C(1) << 40; bits *= 3) {
        g_autofree char *id = id_client(bits);

        assert_int_equal(strlen(id), 8);
        assert_int_equal(strspn(id, "23456789ABCDEFGHJKMNPQRSTVWXYZ"), 8);
    }
}

static void an_event_tells_itself_in_json(void **state)
{
    g_autoptr(Event) event = event_new();

    (void)state;
    event->replica = g_strdup("00000000000000aa");
    event->seq = 3;
    event->kind = g_strdup("redacted");
    event->subject = g_strdup("K7QF2M9T");
    event->author = g_strdup("R. Okafor");
    event->salt[0] = 0xfe;
    g_autoptr(Event) copy = event_copy(event);
    copy->body = g_strdup("{\"a\":1}");
    json_t *blank = event_json(event), *whole = event_json(copy);
    assert_true(json_is_null(json_object_get(blank, "body")));
    assert_true(json_is_null(json_object_get(blank, "base")));
    assert_int_equal(json_integer_value(json_object_get(json_object_get(whole, "body"), "a")), 1);
    assert_string_equal(json_string_value(json_object_get(whole, "salt")),
                        "fe000000000000000000000000000000");
    assert_int_equal(json_string_length(json_object_get(whole, "digest")), 64);
    json_decref(blank);
    json_decref(whole);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ids_stay_what_they_are),
        cmocka_unit_test(parts_do_not_run_into_each_other),
        cmocka_unit_test(a_reply_is_known_by_its_gateway_id_or_its_fingerprint),
        cmocka_unit_test(client_ids_are_easy_to_read_out),
        cmocka_unit_test(an_event_tells_itself_in_json),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
