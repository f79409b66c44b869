/* SPDX-License-Identifier: Apache-2.0 */
/* The text of a body is what jansson writes of it: ledgers of before were written so, and digests are of the text. */
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_value),
        cmocka_unit_test(ends_of_numbers_and_texts),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
