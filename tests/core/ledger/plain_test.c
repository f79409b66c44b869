/* SPDX-License-Identifier: Apache-2.0 */
/* Whatever passes as JSON of the ledger's form is read by jansson; all that the ledger writes passes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>
#include <jansson.h>
#include <string.h>

#include "core/ledger/body.h"
#include "core/ledger/plain.h"
#include "tests/support/ledger_tables.h"

#define TURNS 20000

static void what_the_ledger_writes_passes(void **state)
{
    static const char *const ODD[] = {
        "{}",
        "{\"a\":[],\"b\":{},\"c\":[1,-2,3.5,1e-7,null,true,false,\"\"]}",
        "{\"text\":\"tab\\t quote\\\" back\\\\ line\\n bell\\u0007 \xc3\xa9 \xf0\x9f\x99\x82\"}",
        "{\"a\":1.7976931348623157,\"b\":-0.0,\"c\":999999999999999999,\"d\":5e-99}",
    };
    g_autoptr(GRand) random = g_rand_new_with_seed(7);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++) {
        json_t *tree = json_loads(ODD[i], JSON_REJECT_DUPLICATES, NULL);
        assert_non_null(tree);
        g_autofree char *text = body_text(tree);
        if (!plain_is_object(text)) fail_msg("%s", text);
        json_decref(tree);
    }
    for (int i = 0; i < TURNS / 10; i++) {
        const char *kind;
        g_autofree char *subject = NULL, *drawn = ledger_draw(random, &kind, &subject);
        json_t *tree = json_loads(drawn, 0, NULL);
        g_autofree char *text = body_text(tree);
        if (!plain_is_object(text)) fail_msg("%s", text);
        json_decref(tree);
    }
}

static void what_is_odd_does_not_pass(void **state)
{
    static const char *const ODD[] = {"",
                                      "1",
                                      "[]",
                                      "{",
                                      "{}x",
                                      "{\"a\":1,}",
                                      "{\"a\":1,\"a\":2}",
                                      "{\"b\":1,\"a\":2}",
                                      "{\"\\u0061\":1}",
                                      "{\"a\": 1}",
                                      "{\"a\":01}",
                                      "{\"a\":1.}",
                                      "{\"a\":.5}",
                                      "{\"a\":1e999}",
                                      "{\"a\":99999999999999999999}",
                                      "{\"a\":\"\\u0000\"}",
                                      "{\"a\":\"\\ud800\"}",
                                      "{\"a\":\"\n\"}",
                                      "{\"a\":\"\\x\"}",
                                      "{\"a\":\"",
                                      "{\"a\":\"\\",
                                      "{\"a\":\"\\u12",
                                      "{\"a\":tru}",
                                      "{\"a\":[1}",
                                      "{\"a\":-}",
                                      "{\"a\"",
                                      "{\"a\":"};
    g_autoptr(GString) deep = g_string_new("{\"a\":");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++)
        if (plain_is_object(ODD[i])) fail_msg("%s", ODD[i]);
    for (int i = 0; i < 100000; i++)
        g_string_append_c(deep, '[');
    assert_false(plain_is_object(deep->str));
}

/* Anything that passes can be read by whoever it is given to. */
static void what_passes_is_read(void **state)
{
    static const char SIGNS[] = "{}[]\",:\\u0123456789abcdef-+.eEntrslf \n";
    g_autoptr(GRand) random = g_rand_new_with_seed(8);
    int passed = 0;

    (void)state;
    for (int i = 0; i < TURNS; i++) {
        const char *kind;
        g_autofree char *subject = NULL, *drawn = ledger_draw(random, &kind, &subject);
        json_t *tree = json_loads(drawn, 0, NULL);
        g_autofree char *text = body_text(tree);
        json_decref(tree);
        for (int k = g_rand_int_range(random, 0, 3); k >= 0; k--)
            text[g_rand_int_range(random, 0, (gint32)strlen(text))] =
                SIGNS[g_rand_int_range(random, 0, sizeof SIGNS - 1)];
        if (!plain_is_object(text)) continue;
        passed++;
        tree = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
        if (!json_is_object(tree)) fail_msg("passed, and cannot be read: %s", text);
        json_decref(tree);
    }
    assert_true(passed > TURNS / 100);
}

/* Of every length, with one odd byte at every place. */
static void text_is_what_glib_says(void **state)
{
    static const char ODD[] = {'\0', '\x01', '\x7f', '\x80', '\xc3', '\xff'};
    char text[40];

    (void)state;
    for (size_t length = 0; length < sizeof text; length++)
        for (size_t at = 0; at < length; at++)
            for (size_t odd = 0; odd < sizeof ODD; odd++)
                for (char usual = '\x01'; usual < 'c'; usual += '0') {
                    memset(text, usual, sizeof text);
                    text[at] = ODD[odd];
                    assert_int_equal(plain_is_text(text, length),
                                     g_utf8_validate_len(text, length, NULL));
                }
    assert_true(plain_is_text("", 0));
    assert_true(plain_is_text("eleven let\xc3\xa9rs, and more", 24));
    assert_false(plain_is_text("eleven let\xc3\xa9rs, and more", 11));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_the_ledger_writes_passes),
        cmocka_unit_test(what_is_odd_does_not_pass),
        cmocka_unit_test(what_passes_is_read),
        cmocka_unit_test(text_is_what_glib_says),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
