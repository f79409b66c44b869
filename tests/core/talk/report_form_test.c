/* SPDX-License-Identifier: Apache-2.0 */
/* What is told of the session, and what a person must look at, in odd clothes. Invented sentences. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "tests/support/language.h"

typedef struct {
    const char *language, *text;
    ReadDone done;
    bool person;
} Form;

static void check(const Form *forms, size_t n)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    for (size_t i = 0; i < n; i++) {
        g_autoptr(Reading) reading = language_read(packs, forms[i].language, forms[i].text);
        if (reading->done != forms[i].done || reading->person != forms[i].person)
            fail_msg("\"%s\": done %d, person %d", forms[i].text, reading->done, reading->person);
    }
}

static void minutes_of_a_sign_are_no_session(void **state)
{
    static const Form FORMS[] = {
        {"en", "couldn't find my words for ten minutes this morning", DONE_UNSAID, true},
        {"en", "do I hold it for 20 or 30 seconds?", DONE_UNSAID, true},
        {"en", "did 3 lots of 20 seconds", DONE_YES, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_count_of_something_else_needs_no_person(void **state)
{
    static const Form FORMS[] = {{"en", "Did it. 81 next week you know", DONE_YES, false},
                                 {"en", "done 17", DONE_YES, true},
                                 {"fr", "Fait, et 850 pas jusqu'au marche", DONE_YES, false},
                                 {"es", "No los hice, 2 capitulos seguidos", DONE_NO, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_worrying_word_beside_a_number_for_the_pain_is_none(void **state)
{
    static const Form FORMS[] = {
        {"fr", "ca tirait fort, sept, et la douleur deux", DONE_YES, false},
        {"fr", "ca tirait, j'ai tres mal", DONE_UNSAID, true}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_sign_leaves_room_for_the_report(void **state)
{
    static const Form FORMS[] = {
        {"en", "electric shocks into my foot, so I only did one leg", DONE_PARTLY, true},
        {"en", "half of my face went numb", DONE_UNSAID, true},
        {"en", "5 thx. right calf two sizes up on left", DONE_YES, true}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* Read as if the word were not there, each would be a yes. */
static void a_denial_that_is_misspelt_is_still_one(void **state)
{
    static const Form FORMS[] = {{"en", "Coudlnt manage it today", DONE_NO, false},
                                 {"en", "Dind't do them", DONE_NO, false},
                                 {"en", "cudnt do it", DONE_NO, false},
                                 {"en", "Havnt done them", DONE_NO, false},
                                 {"en", "my parent did it with me, all done", DONE_YES, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* Whoever forgot to answer has not said that nothing was done. */
static void to_forget_the_answer_is_not_to_forget_the_session(void **state)
{
    static const Form FORMS[] = {{"en", "Done, just forgot to say. 4, no pain", DONE_YES, false},
                                 {"en", "Did them but forgot to reply", DONE_YES, false},
                                 {"en", "sorry forgot to answer", DONE_UNSAID, true},
                                 {"en", "forgot to do them", DONE_NO, false},
                                 {"en", "I did not forget, 4", DONE_YES, false},
                                 {"es", "Hecho, se me olvidó avisar. 4", DONE_YES, false},
                                 {"es", "se me olvidó hacerlos", DONE_NO, false},
                                 {"fr", "fait, j'ai juste oublié de répondre", DONE_YES, false},
                                 {"fr", "oublié de les faire", DONE_NO, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_question_that_is_answered_needs_no_person(void **state)
{
    static const Form FORMS[] = {
        {"en", "Short of breath? Me? No. Did it, 2", DONE_YES, false},
        {"en", "any numbness? No. 4 and 0", DONE_YES, false},
        {"en", "should I stop if it hurts? No pain today", DONE_UNSAID, true},
        {"en", "?", DONE_UNSAID, true}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_others_are_told_of_leaves_the_clients_own_report(void **state)
{
    static const Form FORMS[] = {
        {"en", "breathless with excitement about the new baby, done", DONE_YES, false},
        {"en", "my wife was at her mother's, done, 4", DONE_YES, false},
        {"en", "can I do them in the bath", DONE_UNSAID, true},
        {"en", "plan was to do them", DONE_UNSAID, true}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_got_in_the_way_is_no_despair(void **state)
{
    static const Form FORMS[] = {{"en", "Life got in the way today", DONE_NO, false},
                                 {"en", "I'm only in the way here", DONE_UNSAID, true},
                                 {"es", "se me paso hacerlos", DONE_NO, false},
                                 {"es", "me dolia pero ya se me paso", DONE_UNSAID, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* "D" alone is done; of a name it is a letter. */
static void initials_below_the_words_report_nothing(void **state)
{
    static const Form FORMS[] = {
        {"fr", "Dois-je maintenir 20 ou 30 secondes ?\nA. D.", DONE_UNSAID, true},
        {"en", "No time today.\nJ. A. D.", DONE_NO, false},
        {"en", "D. 4\nA. D.", DONE_YES, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* Two patterns of a pack over the same words, of which one names the "sans". */
static void a_sign_told_by_what_is_missing_is_not_denied_by_it(void **state)
{
    static const Form FORMS[] = {{"fr", "puis j'ai urine sans rien sentir", DONE_UNSAID, true},
                                 {"fr", "envie de pisser et rien sort", DONE_UNSAID, true}};
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(FORMS); i++) {
        g_autoptr(Reading) reading = language_read(packs, FORMS[i].language, FORMS[i].text);
        if (reading->warning != WARNING_CAUDA) fail_msg("\"%s\"", FORMS[i].text);
    }
}

/* A piece of the session that was passed over, in words that also say that something was done. */
static void a_piece_passed_over_is_no_whole_session(void **state)
{
    static const Form FORMS[] = {
        {"en", "Did my good leg, left the other alone", DONE_PARTLY, false},
        {"en", "Did one lot and ditched the second", DONE_PARTLY, false},
        {"en", "Two sets rather than three", DONE_PARTLY, false},
        {"en", "Not a thing left out", DONE_YES, false},
        {"en", "I missed the last bus but did my stretches", DONE_YES, false},
        {"en", "Did all sorts today bar my routine", DONE_NO, false},
        {"en", "Everything left undone", DONE_NO, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* The number word of a denial: no rating of the stretch. */
static void no_stretching_at_all_is_no_rating(void **state)
{
    static const Form FORMS[] = {{"en", "straight to bed, zero stretching", DONE_NO, false},
                                 {"en", "zero stretching today", DONE_NO, false},
                                 {"en", "stretch zero", DONE_YES, false}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

/* What clinicians answer to a call: with a no in it, an alert is not taken. */
static void an_answer_with_a_no_in_it_denies(void **state)
{
    static const struct {
        const char *language, *text;
        bool denies;
    } ANSWERS[] = {
        {"en", "TAKE 4711", false},          {"en", "ok 4711, on my way", false},
        {"en", "taking 4711 now", false},    {"en", "can't take 4711, at the dentist", true},
        {"en", "4711 not me", true},         {"en", "no 4711", true},
        {"en", "4711 cannot", true},         {"es", "ME OCUPO 4711", false},
        {"es", "4711 voy yo", false},        {"es", "no puedo 4711", true},
        {"fr", "JE PRENDS 4711", false},     {"fr", "4711 j'y vais", false},
        {"fr", "je ne peux pas 4711", true}, {"fr", "pas moi 4711", true}};
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ANSWERS); i++) {
        g_autoptr(Reading) reading = language_read(packs, ANSWERS[i].language, ANSWERS[i].text);
        if (reading->denies != ANSWERS[i].denies)
            fail_msg("\"%s\": denies %d", ANSWERS[i].text, reading->denies);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(initials_below_the_words_report_nothing),
        cmocka_unit_test(a_sign_told_by_what_is_missing_is_not_denied_by_it),
        cmocka_unit_test(minutes_of_a_sign_are_no_session),
        cmocka_unit_test(a_count_of_something_else_needs_no_person),
        cmocka_unit_test(a_worrying_word_beside_a_number_for_the_pain_is_none),
        cmocka_unit_test(a_sign_leaves_room_for_the_report),
        cmocka_unit_test(a_denial_that_is_misspelt_is_still_one),
        cmocka_unit_test(to_forget_the_answer_is_not_to_forget_the_session),
        cmocka_unit_test(a_question_that_is_answered_needs_no_person),
        cmocka_unit_test(what_others_are_told_of_leaves_the_clients_own_report),
        cmocka_unit_test(what_got_in_the_way_is_no_despair),
        cmocka_unit_test(a_piece_passed_over_is_no_whole_session),
        cmocka_unit_test(no_stretching_at_all_is_no_rating),
        cmocka_unit_test(an_answer_with_a_no_in_it_denies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
