/* SPDX-License-Identifier: Apache-2.0 */
/* The answer that osier's own texts ask for, in the ways that thumbs type it: D or N, the stretch, P
 * and the pain. Whatever else the reader takes or leaves, this is read whole. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/talk/reading.h"
#include "tests/support/language.h"

typedef struct {
    const char *text;
    ReadDone done;
    int intensity; /* -1: none given */
    int pain;      /* -1: none given */
} Form;

static const Form FORMS[] = {
    {"D 4 P0", DONE_YES, 4, 0},   {"d 4 p0", DONE_YES, 4, 0},     {"D 4 P 0", DONE_YES, 4, 0},
    {"D4 P0", DONE_YES, 4, 0},    {"D 4P0", DONE_YES, 4, 0},      {"D4P0", DONE_YES, 4, 0},
    {"D, 4, P0", DONE_YES, 4, 0}, {"D. 4. P0.", DONE_YES, 4, 0},  {"D\n4\nP0", DONE_YES, 4, 0},
    {"D 4 P2", DONE_YES, 4, 2},   {"D 10 P10", DONE_YES, 10, 10}, {"D 7 P1", DONE_YES, 7, 1},
    {"D 4", DONE_YES, 4, -1},     {"D", DONE_YES, -1, -1},        {"Done 4 P0", DONE_YES, 4, 0},
    {"N", DONE_NO, -1, -1},       {"N P2", DONE_NO, -1, 2},       {"n p 3", DONE_NO, -1, 3},
};

static void the_form_that_is_asked_for_is_read_whole(void **state)
{
    g_autoptr(Pack) pack = language_pack("en");
    const Pack *packs[] = {pack};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(FORMS); i++) {
        const Form *form = &FORMS[i];
        g_autoptr(Reading) reading = reply_read(packs, 1, form->text, strlen(form->text));
        int pain = reading->pain_kind == PAIN_NUMBER ? (int)reading->pain : -1;
        if (reading->done != form->done || (int)reading->intensity != form->intensity ||
            pain != form->pain || reading->pain_kind == PAIN_SOME || reading->person)
            fail_msg("'%s' was read as done %s, stretch %g, pain %d%s", form->text,
                     read_done_name(reading->done), reading->intensity, pain,
                     reading->person ? ", for a person" : "");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_form_that_is_asked_for_is_read_whole),
    };

    return cmocka_run_group_tests_name("asked_form", tests, NULL, NULL);
}
