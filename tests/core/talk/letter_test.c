/* SPDX-License-Identifier: Apache-2.0 */
/* The answer to the weekly check-in, as people of eighty write it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>

#include "core/talk/letter.h"

#define WORDS "letter letters"

typedef struct {
    const char *text;
    LetterForm form;
    char letter;
    const char *rest;
} Case;

static void check(const Case *c)
{
    Letter letter = letter_read(WORDS, c->text);

    if (letter.form != c->form || letter.letter != c->letter)
        fail_msg("'%s': form %d letter %c", c->text, letter.form,
                 letter.letter != 0 ? letter.letter : '-');
    assert_string_equal(letter.rest, c->rest);
    letter_clear(&letter);
}

static void a_letter_is_read(void **state)
{
    static const Case CASES[] = {
        {"C", LETTER_ALONE, 'C', ""},
        {" c. ", LETTER_ALONE, 'C', ""},
        {"D", LETTER_ALONE, 'D', ""},
        {"a", LETTER_ALONE, 'A', ""},
        {"Letter C", LETTER_NAMED, 'C', ""},
        {"LETTER d, 4 P0", LETTER_NAMED, 'D', ", 4 P0"},
        {"It is letter B today thank you dear", LETTER_NAMED, 'B', "It is   today thank you dear"},
        {"letter A", LETTER_NAMED, 'A', ""},
        {"mostly C", LETTER_AMONG, 'C', "mostly"},
        {"E I think", LETTER_AMONG, 'E', "I think"},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++)
        check(&CASES[i]);
}

static void several_letters_are_for_a_person_but_e_wins(void **state)
{
    static const Case CASES[] = {
        {"B C", LETTER_UNSURE, 0, ""},
        {"letter B or C", LETTER_UNSURE, 0, "or"},
        {"letters C and E", LETTER_NAMED, 'E', "and"},
        {"letter E and C", LETTER_NAMED, 'E', "and"},
        {"letter C C", LETTER_NAMED, 'C', ""},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++)
        check(&CASES[i]);
}

static void what_is_no_letter_is_left_as_it_is(void **state)
{
    static const Case CASES[] = {
        {"", LETTER_NONE, 0, ""},
        {"D 4 P0", LETTER_NONE, 0, "D 4 P0"},
        {"a bit sore", LETTER_NONE, 0, "a bit sore"},
        {"F", LETTER_NONE, 0, "F"},
        {"the letter from the hospital came", LETTER_NONE, 0, "the letter from the hospital came"},
        {"I had a cup of tea with C yesterday", LETTER_NONE, 0,
         "I had a cup of tea with C yesterday"},
        {"\xff\xfe C", LETTER_NONE, 0, "\xff\xfe C"},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++)
        check(&CASES[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_is_read),
        cmocka_unit_test(several_letters_are_for_a_person_but_e_wins),
        cmocka_unit_test(what_is_no_letter_is_left_as_it_is),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
