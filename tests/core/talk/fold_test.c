/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/talk/reading_fold.h"

static char *encoded(gunichar c)
{
    char bytes[7] = {0};

    g_unichar_to_utf8(c, bytes);
    return g_strdup(bytes);
}

/* Whether it is one character or a letter with accents behind it, a word folds to the same. */
static void a_letter_folds_as_its_parts_do(void **state)
{
    (void)state;
    for (gunichar c = 0xC0; c < 0x250; c++) {
        g_autofree char *whole = encoded(c);
        g_autofree char *parts = g_utf8_normalize(whole, -1, G_NORMALIZE_NFD);
        g_autofree char *one = fold_word(whole);
        g_autofree char *other = fold_word(parts);
        if (strcmp(one, other) != 0) fail_msg("%s folds to %s, its parts to %s", whole, one, other);
    }
}

static void letters_fold_to_plain_ones(void **state)
{
    static const char *const WORDS[][2] = {
        {"ÀÉÎÕÜÇÑÝ", "aeioucny"}, {"àéîõüçñýÿ", "aeioucnyy"}, {"Œuvre æ ø ß", "oeuvre ae o ss"},
        {"¿Qué?", ",que?"},       {"l’été", "l'ete"},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++) {
        g_autofree char *folded = fold_word(WORDS[i][0]);
        assert_string_equal(folded, WORDS[i][1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_folds_as_its_parts_do),
        cmocka_unit_test(letters_fold_to_plain_ones),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
