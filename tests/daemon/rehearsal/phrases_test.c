/* SPDX-License-Identifier: Apache-2.0 */
/* What the people of a rehearsal say, language by language. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/rehearsal/phrases.h"

static void everything_can_be_said_in_every_language(void **state)
{
    static const char *const LANGUAGES[] = {"en", "es", "fr"};

    (void)state;
    for (guint i = 0; i < G_N_ELEMENTS(LANGUAGES); i++)
        for (Phrase what = PHRASE_DONE; what < PHRASES; what++)
            for (guint64 pick = 0; pick < 20; pick++)
                assert_true(strlen(phrase(LANGUAGES[i], what, pick)) > 0);
}

/* A number that is not said would be read as an answer without it. */
static void the_numbers_are_put_in_wherever_there_is_place_for_them(void **state)
{
    static const char *const LANGUAGES[] = {"en", "es", "fr"};

    (void)state;
    for (guint i = 0; i < G_N_ELEMENTS(LANGUAGES); i++)
        for (guint64 pick = 0; pick < 20; pick++) {
            g_autofree char *said = phrase_fill(phrase(LANGUAGES[i], PHRASE_DONE_PAIN, pick), 3, 6);
            assert_non_null(strchr(said, '3'));
            assert_non_null(strchr(said, '6'));
            assert_null(strchr(said, '{'));
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_can_be_said_in_every_language),
        cmocka_unit_test(the_numbers_are_put_in_wherever_there_is_place_for_them),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
