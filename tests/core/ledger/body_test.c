/* SPDX-License-Identifier: Apache-2.0 */
/* The text of a body is what jansson writes of it: ledgers of before were written so, and digests are of the text. What jansson
 * reads of a text is what is read here, and what it refuses is refused. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "core/ledger/body.h"

static void same_as_jansson(const json_t *value, guint32 seed)
{
    g_autofree char *ours = body_text(value);
    char *theirs = json_dumps(value, JSON_SORT_KEYS | JSON_COMPACT | JSON_ENCODE_ANY);

    if (strcmp(ours, theirs) != 0) fail_msg("seed %u: %s, by jansson %s", seed, ours, theirs);
    free(theirs);
}

static char *random_string(GRand *random)
{
    static const gunichar ODD[] = {'"',  '\\', '/',  '\b',   '\f',   '\n',    '\r',
                                   '\t', 0x1f, 0x7f, 0x2028, 0xffff, 0x1f642, 0xe9};
    GString *text = g_string_new(NULL);

    for (int i = g_rand_int_range(random, 0, 20); i > 0; i--)
        g_string_append_unichar(text,
                                g_rand_int_range(random, 0, 4) == 0
                                    ? ODD[g_rand_int_range(random, 0, (gint32)G_N_ELEMENTS(ODD))]
                                    : (gunichar)g_rand_int_range(random, 1, 300));
    return g_string_free(text, FALSE);
}

static json_t *random_value(GRand *random, int depth)
{
    g_autofree char *text = random_string(random);
    json_t *value;

    switch (g_rand_int_range(random, 0, depth > 0 ? 8 : 6)) {
    case 0: return json_string(text);
    case 1:
        return json_integer((json_int_t)((guint64)g_rand_int(random) << 32 | g_rand_int(random)));
    case 2: return json_integer(g_rand_int_range(random, -11, 11));
    case 3: return json_real(g_rand_double_range(random, -1e9, 1e9));
    case 4: return json_boolean(g_rand_boolean(random));
    case 5: return json_null();
    case 6:
        value = json_array();
        for (int i = g_rand_int_range(random, 0, 5); i > 0; i--)
            json_array_append_new(value, random_value(random, depth - 1));
        return value;
    default:
        value = json_object();
        for (int i = g_rand_int_range(random, 0, 40); i > 0; i--) {
            g_autofree char *key = random_string(random);
            json_object_set_new(value, key, random_value(random, depth - 1));
        }
        return value;
    }
}

static void any_value(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= 400; seed++) {
        g_autoptr(GRand) random = g_rand_new_with_seed(seed);
        json_t *value = random_value(random, 3);

        same_as_jansson(value, seed);
        json_decref(value);
    }
}

static void ends_of_numbers_and_texts(void **state)
{
    json_t *value = json_pack("[I, I, i, f, f, f, s%, s, {}, []]", (json_int_t)INT64_MAX,
                              (json_int_t)INT64_MIN, 0, 0.0, 1e300, 0.1, "a\0b", (size_t)3, "");

    (void)state;
    same_as_jansson(value, 0);
    json_decref(value);
}

/* Members in the same order too. */
static void read_as_by_jansson(const char *text)
{
    json_t *ours = body_read(text), *theirs = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    char *one = ours != NULL ? json_dumps(ours, JSON_COMPACT) : NULL;
    char *other = theirs != NULL ? json_dumps(theirs, JSON_COMPACT) : NULL;

    if (g_strcmp0(one, other) != 0)
        fail_msg("%s: %s, by jansson %s", text, one != NULL ? one : "refused",
                 other != NULL ? other : "refused");
    if (ours != NULL && !json_equal(ours, theirs)) fail_msg("%s: not equal", text);
    free(one);
    free(other);
    json_decref(ours);
    json_decref(theirs);
}

/* As it is written, and with a byte or two of it spoilt, cut off or put in. */
static void what_is_written_and_spoilt_is_read_alike(void **state)
{
    static const char SIGNS[] = "{}[]\",:\\u0123456789abcdef-+.eEntrslf \n\xc3\xa9\xed\xff\x01";

    (void)state;
    for (guint32 seed = 1; seed <= 400; seed++) {
        g_autoptr(GRand) random = g_rand_new_with_seed(seed);
        json_t *value = json_pack("{s:o, s:i}", "a", random_value(random, 3), "b", (int)seed);
        g_autofree char *text = body_text(value);
        gint32 length = (gint32)strlen(text);

        json_decref(value);
        read_as_by_jansson(text);
        for (int k = 0; k < 20; k++) {
            g_autofree char *spoilt = g_strdup(text);
            for (int n = g_rand_int_range(random, 1, 3); n > 0; n--)
                spoilt[g_rand_int_range(random, 0, length)] =
                    SIGNS[g_rand_int_range(random, 0, sizeof SIGNS)];
            read_as_by_jansson(spoilt);
        }
    }
}

static void odd_texts_are_read_alike(void **state)
{
    static const char *const ODD[] = {"",
                                      "1",
                                      "[]",
                                      "{",
                                      "{}",
                                      "{}x",
                                      " {} ",
                                      "{\"a\":[],\"b\":{}}",
                                      "{\"a\":1,}",
                                      "{\"a\":1,\"a\":2}",
                                      "{\"b\":1,\"a\":2}",
                                      "{\"b\":1,\"a\":2,\"b\":3}",
                                      "{\"\":1,\"\\u0061\":2}",
                                      "{\"a\\n\":1}",
                                      "{\"a\": 1 , \"b\":[ 1, 2 ]}",
                                      "{\"a\":-0}",
                                      "{\"a\":-0.0,\"b\":1e5,\"c\":1E-3,\"d\":2.5}",
                                      "{\"a\":01}",
                                      "{\"a\":00.5}",
                                      "{\"a\":1.}",
                                      "{\"a\":.5}",
                                      "{\"a\":1-2}",
                                      "{\"a\":1e5-2}",
                                      "{\"a\":1e999}",
                                      "{\"a\":999999999999999999}",
                                      "{\"a\":-999999999999999999}",
                                      "{\"a\":9223372036854775807}",
                                      "{\"a\":-9223372036854775808}",
                                      "{\"a\":9223372036854775808}",
                                      "{\"a\":0.1234567890123456789012345678901234567890123456789}",
                                      "{\"a\":\"\\u0000\"}",
                                      "{\"a\":\"\\u0041\\ud83d\\ude42\"}",
                                      "{\"a\":\"\\ud800\"}",
                                      "{\"a\":\"\\\"\\\\\\/\\b\\f\\n\\r\\t\"}",
                                      "{\"a\":\"\n\"}",
                                      "{\"a\":\"\x7f\"}",
                                      "{\"a\":\"\\x\"}",
                                      "{\"a\":\"\xc0\xaf\"}",
                                      "{\"a\":\"\xed\xa0\x80\"}",
                                      "{\"a\":\"\xf4\x90\x80\x80\"}",
                                      "{\"a\":\"\xef\xbf\xbe\"}",
                                      "{\"a\":\"",
                                      "{\"a\":\"\\",
                                      "{\"a\":\"\\u12",
                                      "{\"a\":tru}",
                                      "{\"a\":nullx}",
                                      "{\"a\":[1}",
                                      "{\"a\":-}",
                                      "{\"a\"",
                                      "{\"a\":"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++)
        read_as_by_jansson(ODD[i]);
    for (int depth = 28; depth < 40; depth++) {
        g_autofree char *open = g_strnfill((gsize)depth, '['),
                        *close = g_strnfill((gsize)depth, ']');
        g_autofree char *text = g_strdup_printf("{\"a\":%s%s}", open, close);
        read_as_by_jansson(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_value),
        cmocka_unit_test(ends_of_numbers_and_texts),
        cmocka_unit_test(what_is_written_and_spoilt_is_read_alike),
        cmocka_unit_test(odd_texts_are_read_alike),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
