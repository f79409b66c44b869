/* SPDX-License-Identifier: Apache-2.0 */
/* What to say and ask on the telephone. The lines are common practice. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdbool.h>
#include <string.h>

#include "core/watch/script.h"

static bool says(const char *const *lines, const char *words)
{
    for (; *lines != NULL; lines++)
        if (strstr(*lines, words) != NULL) return true;
    return false;
}

static void a_sign_of_the_gravest_leads_to_the_emergency_number(void **state)
{
    static const char *const SIGNS[] = {"heart", "stroke", "cauda", "crisis"};

    (void)state;
    for (size_t i = 0; i < 4; i++)
        assert_true(says(call_script(SIGNS[i]), "ring the emergency number now"));
}

static void the_three_questions_of_a_session_are_asked(void **state)
{
    const char *const *lines = call_script("session");

    (void)state;
    assert_true(says(lines, "stretches today") && says(lines, "How strong") && says(lines, "pain"));
    assert_true(says(lines, "a fall"));
}

static void a_matter_without_lines_of_its_own_is_asked_about_as_pain_is(void **state)
{
    (void)state;
    assert_ptr_equal(call_script("nerve"), call_script("pain"));
    assert_true(says(call_script("fracture"), "do not stretch"));
}

static void whoever_lost_somebody_is_not_asked_where_it_hurts(void **state)
{
    const char *const *lines = call_script("suspended");

    (void)state;
    assert_true(says(lines, "very sorry") && says(lines, "Who am I speaking with?"));
    assert_false(says(lines, "0 to 10"));
    assert_false(says(call_script("consent"), "0 to 10"));
    assert_true(says(call_script("unread"), "Read the reply first"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sign_of_the_gravest_leads_to_the_emergency_number),
        cmocka_unit_test(the_three_questions_of_a_session_are_asked),
        cmocka_unit_test(whoever_lost_somebody_is_not_asked_where_it_hurts),
        cmocka_unit_test(a_matter_without_lines_of_its_own_is_asked_about_as_pain_is),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
