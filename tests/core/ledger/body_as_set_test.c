/* SPDX-License-Identifier: Apache-2.0 */
/* JSON with its members as they were set, beside jansson's own writer. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "core/ledger/body.h"

static void same(json_t *document)
{
    g_autoptr(GString) text = g_string_new(NULL);
    char *theirs = json_dumps(document, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15));

    body_append_as_set(text, document);
    assert_string_equal(text->str, theirs);
    free(theirs);
    json_decref(document);
}

static json_t *any(GRand *random, int depth)
{
    static const char *const TEXTS[] = {"",           "plain",           "\"quoted\" \\ back/slash",
                                        "\n\t\r\b\f", "\x01\x1f",        "caf\xc3\xa9",
                                        "\x7f",       "\xf0\x9f\x99\x82"};
    json_t *document;

    switch (g_rand_int_range(random, 0, depth > 3 ? 6 : 8)) {
    case 0: return json_null();
    case 1: return json_boolean(g_rand_boolean(random));
    case 2:
        return json_integer((json_int_t)((guint64)g_rand_int(random) << 32 | g_rand_int(random)));
    case 3: return json_real(g_rand_double_range(random, -1e3, 1e3));
    case 4: return json_real(g_rand_int_range(random, -5, 1000000));
    case 5: return json_string(TEXTS[g_rand_int_range(random, 0, G_N_ELEMENTS(TEXTS))]);
    case 6:
        document = json_array();
        for (int i = g_rand_int_range(random, 0, 4); i > 0; i--)
            json_array_append_new(document, any(random, depth + 1));
        return document;
    default:
        document = json_object();
        for (int i = g_rand_int_range(random, 0, 4); i > 0; i--)
            json_object_set_new(document, TEXTS[g_rand_int_range(random, 0, G_N_ELEMENTS(TEXTS))],
                                any(random, depth + 1));
        return document;
    }
}

static void as_jansson_writes_it(void **state)
{
    const guint32 seed = 20261126;
    GRand *random = g_rand_new_with_seed(seed);

    (void)state;
    print_message("seed %u\n", seed);
    for (int i = 0; i < 5000; i++)
        same(any(random, 0));
    g_rand_free(random);
}

static void reals_keep_their_point(void **state)
{
    static const double REALS[] = {0,    -0.0, 1,       0.1,  62.5,
                                   1e15, 1e16, 1.5e300, 1e-7, 123456789012345.0};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(REALS); i++)
        same(json_real(REALS[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_jansson_writes_it),
        cmocka_unit_test(reals_keep_their_point),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
