/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers in odd clothes: halves, what dictation hears, heights, years, rows of repetitions, and mail quoted within a line.
 * Invented sentences. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "tests/support/language.h"

enum { UNSAID = -1 };

typedef struct {
    const char *language, *text;
    double intensity, pain; /* UNSAID where the text says none */
} Form;

static void check(const Form *forms, size_t n)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);

    for (size_t i = 0; i < n; i++) {
        g_autoptr(Reading) reading = language_read(packs, forms[i].language, forms[i].text);
        double pain = reading->pain_kind == PAIN_NUMBER ? reading->pain : UNSAID;
        bool same = reading->intensity == forms[i].intensity && pain == forms[i].pain;
        if (!same) fail_msg("\"%s\": %g, pain %g", forms[i].text, reading->intensity, pain);
    }
}

static void a_half_is_written_in_many_ways(void **state)
{
    static const Form FORMS[] = {
        {"en", "4 1/2", 4.5, UNSAID},           {"en", "4\302\275 no pain", 4.5, 0},
        {"en", "four and a half", 4.5, UNSAID}, {"es", "4,5", 4.5, UNSAID},
        {"es", "4'5 y nada de dolor", 4.5, 0},  {"es", "4\342\200\2315", 4.5, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void dictation_hears_a_number_as_a_word_only_out_of_ten(void **state)
{
    static const Form FORMS[] = {{"en", "I give it to out of ten", 2, UNSAID},
                                 {"en", "fore out of 10 no pain", 4, 0},
                                 {"en", "I went to about ten shops", UNSAID, UNSAID},
                                 {"en", "too tired to count to ten", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_height_a_year_and_a_row_of_repetitions_are_no_ratings(void **state)
{
    static const Form FORMS[] = {
        {"es", "2. Mi nieto crece: media 1,62 y hoy 1,57", 2, UNSAID},
        {"en", "Four, no pain. Regards, E. Pomfret, Ramblers (Est. 1988)", 4, 0},
        {"en", "stopped at rep 6 of 10", UNSAID, UNSAID},
        {"en", "did 10 reps, 6 of 10", 6, UNSAID},
        {"en", "did both at about six, strength 4", 4, UNSAID},
        {"en", "3 up to 5", 4, UNSAID},
        {"en", "Change the time to 10 please", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_pain_that_has_gone_takes_no_number(void **state)
{
    static const Form FORMS[] = {{"fr", "4 la douleur est partie", 4, 0},
                                 {"en", "5 the soreness has gone", 5, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void two_numbers_at_the_end_are_the_report(void **state)
{
    static const Form FORMS[] = {{"en", "did them in the garden 4 0", 4, 0},
                                 {"en", "went to the garden 4 0", UNSAID, UNSAID},
                                 {"en", "did them, the lads won 3 0", UNSAID, UNSAID},
                                 {"en", "did them watching the lads win 3 0", UNSAID, UNSAID},
                                 {"en", "done all 4 0", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_word_between_brackets_is_that_of_the_number_before_it(void **state)
{
    static const Form FORMS[] = {{"es", "1 (dolor) y 5 (fuerza)", 5, 1},
                                 {"fr", "4 (\303\251tirement), 2 (douleur)", 4, 2},
                                 {"en", "3 (pain) and 6 (stretch)", 6, 3},
                                 {"en", "stretch (5) pain (1)", 5, 1}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void points_that_trail_off_end_no_sentence(void **state)
{
    static const Form FORMS[] = {
        {"en", "pain... none, stretch 4", 4, 0},
        {"fr", "j'ai gliss\303\251... un mot \303\240 la voisine. 3", 3, UNSAID},
        {"en", "4... Pain 2", 4, 2}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void no_animal_takes_the_report_of_the_next_clause(void **state)
{
    static const Form FORMS[] = {{"es", "el perro cojea de una pata, hecho, 4", 4, UNSAID},
                                 {"fr", "le chat boude depuis ce matin, fait, 3", 3, UNSAID},
                                 {"es", "mi marido cojea, dice que 6", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_day_that_something_else_is_told_of_is_not_that_of_the_report(void **state)
{
    static const Form FORMS[] = {{"es", "ayer fui al circo, hecho 4", 4, UNSAID},
                                 {"es", "anoche dorm\303\255 fatal, hechos, un 5", 5, UNSAID},
                                 {"en", "Went to bingo yesterday, all done, 4", 4, UNSAID},
                                 {"en", "Did yesterday's at bedtime, that was 5", UNSAID, UNSAID},
                                 {"fr", "hier, fait, 4", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void digits_right_behind_what_was_done_are_the_rating(void **state)
{
    static const Form FORMS[] = {{"en", "Crochet hooks everywhere so all done 4", 4, UNSAID},
                                 {"es", "ya los hice: 4", 4, UNSAID},
                                 {"es", "ya los hice 4 veces", UNSAID, UNSAID},
                                 {"en", "all done 4 parrots watching", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_number_is_written_as_it_is_heard(void **state)
{
    static const Form FORMS[] = {{"es", "hechos, un nuebe", 9, UNSAID},
                                 {"es", "ceis i nada de dolor", 6, 0},
                                 {"es", "me duele la sien", UNSAID, UNSAID},
                                 {"es", "los aze mi hermana", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_number_of_another_matter_is_no_half_of_the_report(void **state)
{
    static const Form FORMS[] = {
        {"es", "en el bingo cant\303\251 l\303\255nea con el 7. hechos, 4", 4, UNSAID},
        {"es", "un 7. hechos, dolor 4", 7, 4},
        {"fr", "le 7 est sorti au loto. fait, 4", 4, UNSAID},
        {"fr", "fait 4 pas mal", 4, UNSAID},
        {"fr", "fait, 200 pas", UNSAID, UNSAID},
        {"en", "Won a raffle with 7. Done, 4", 4, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_smile_behind_some_words_ends_a_sentence(void **state)
{
    static const Form FORMS[] = {
        {"es", "Ayer fui a la playa \360\237\230\204 hechos, 5, dolor 0", 5, 0},
        {"fr", "Hier au parc avec lui \360\237\230\204 fait, 6, douleur 0", 6, 0},
        {"es", "dolor \360\237\230\243 6", UNSAID, 6},
        {"en", "stretch was a 4 pain \360\237\230\203 0", 4, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_is_corrected_by_its_name_keeps_its_place(void **state)
{
    static const Form FORMS[] = {
        {"fr", "oui 5 / 4\nOups la douleur c'est 2 pas 4", 5, 2},
        {"fr", "fait. force 3\nBon je me relis et je corrige : force 5. douleur 2", 5, 2},
        {"fr", "5 3. Pardon la douleur est \303\240 1 pas 3", 5, 1},
        {"fr", "fait 200 pas, 4", 4, UNSAID},
        {"en", "5 3. Sorry, pain 1", 5, 1},
        {"es", "5 y 3. Perd\303\263n, el dolor es un 1", 5, 1}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void mail_quoted_within_a_line_is_cut(void **state)
{
    static const Form FORMS[] = {
        {"es",
         "6 y 1 El dom, 19 ene 2025 a las 10:02, Fisio <a@fisio.example> escribi\303\263: > dolor "
         "(0-10)? 9",
         6, 1},
        {"fr",
         "6 et 1 Le dim. 19 janv. 2025, Physio <a@physio.example> a \303\251crit : > de 0 \303\240 "
         "10 ?",
         6, 1},
        {"en", "4 no pain On Monday, Clinic <a@clinic.example> wrote: > rate it 0 to 10, like 9", 4,
         0},
        {"en", "my score: > 4", 4, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_rating_that_another_gives_is_not_the_clients(void **state)
{
    static const Form FORMS[] = {{"en", "wife did hers too, she says 6. Mine was 3", 3, UNSAID},
                                 {"es", "mi mujer los hizo, dice 6. Yo un 3", 3, UNSAID},
                                 {"fr", "ma femme les a faits, elle dit 6. Moi 3", 3, UNSAID},
                                 {"en", "she gets a 7, I get a 4", 4, UNSAID},
                                 {"en", "mum says 4, no pain", 4, 0},
                                 {"en", "My husband did his and he says 3", UNSAID, UNSAID},
                                 {"en", "my wife did hers, 6 she says", UNSAID, UNSAID},
                                 {"en", "My sister says 7, I have not done mine", UNSAID, UNSAID},
                                 {"en", "My husband did his and he says 3, mine was 5", 5, UNSAID},
                                 {"es", "Mi marido hizo los suyos y dice que 3", UNSAID, UNSAID},
                                 {"es", "mi mujer los ha hecho, 4 sin dolor", 4, 0},
                                 {"fr", "Mon mari a fait les siens et il dit 3", UNSAID, UNSAID},
                                 {"fr", "elle dit 4, pas de douleur", 4, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_spoken_decimal_stands_before_the_word_of_the_next_number(void **state)
{
    static const Form FORMS[] = {{"en", "stretch was four point five pain zero", 4.5, 0},
                                 {"en", "four point five stretch zero pain", 4.5, 0},
                                 {"es", "estiramiento cuatro coma cinco dolor cero", 4.5, 0},
                                 {"es", "4 con 1 de dolor", 4, 1},
                                 {"fr", "etirement quatre virgule cinq douleur zero", 4.5, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void two_sides_are_one_rating_whatever_stands_between(void **state)
{
    static const Form FORMS[] = {
        {"en", "Left calf 5, right one a bit tighter at 6", 5.5, UNSAID},
        {"en", "right calf 4 and left one tighter, more like 6", 5, UNSAID},
        {"en", "4, bit tighter on the left, 1 pain", 4, 1},
        {"es", "Gemelo izquierdo 5, el derecho algo mÃ¡s tirante, 6", 5.5, UNSAID},
        {"fr", "Mollet gauche 5, le droit un peu plus tendu Ã  6", 5.5, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_is_told_again_counts_once(void **state)
{
    static const Form FORMS[] = {{"en", "6, 0. Sorry, that's 6 for stretch, 0 for pain", 6, 0},
                                 {"en", "3 this morning, 3 tonight, no pain", 3, 0},
                                 {"en", "4 stretch and 4 pain", 4, 4},
                                 {"es", "tres y cero, el 3 es el estiramiento", 3, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void an_article_and_a_pressure_are_no_ratings(void **state)
{
    static const Form FORMS[] = {{"es", "Me duele una pantorrilla hasta sentado", UNSAID, UNSAID},
                                 {"en", "since I was six", UNSAID, UNSAID},
                                 {"en", "Please don't ring between 1 and 3", UNSAID, UNSAID},
                                 {"fr", "5/10, douleur 0/10, tension 13/8", 5, 0}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void scores_and_sayings_hold_no_rating(void **state)
{
    static const Form FORMS[] = {{"en", "3-0 to the lads, will do them after", UNSAID, UNSAID},
                                 {"en", "4-0", 4, 0},
                                 {"en", "done 4-0", 4, 0},
                                 {"en", "9 to 5 they keep me busy, my grandkids", UNSAID, UNSAID},
                                 {"en", "I give you ten out of ten for patience", UNSAID, UNSAID},
                                 {"en", "that strap is 10 out of 10, thank you", UNSAID, UNSAID},
                                 {"en", "pain was 5 last week now nothing", UNSAID, 0},
                                 {"es", "dolor de 5 la semana pasada, hoy nada", UNSAID, 0},
                                 {"fr", "la sangle vaut 10 sur 10, merci", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void mark_up_holds_no_number(void **state)
{
    static const Form FORMS[] = {
        {"en", "<img src=x onerror=\"alert(1)\"><script>alert(2)</script>", UNSAID, UNSAID},
        {"en", "<img src=x alert(1)><script>alert(2)", UNSAID, UNSAID},
        {"en", "<p>Done</p><p>stretch <b>4</b>, pain 0</p>", 4, 0},
        {"en", "<style>p {margin: 3 0}</style>5", 5, UNSAID},
        {"en", "4 <3 lovely", 4, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void letters_held_down_and_points_for_spaces_hide_no_number(void **state)
{
    static const Form FORMS[] = {{"en", "fourrrr", 4, UNSAID},
                                 {"es", "cuatroooo sin dolor", 4, 0},
                                 {"en", "d.4.p.0", 4, 0},
                                 {"en", "done.5", 5, UNSAID},
                                 {"en", "a fvie out of ten", 5, UNSAID},
                                 {"en", "fvie of us went swimming", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void done_at_a_number_is_an_hour(void **state)
{
    static const Form FORMS[] = {
        {"fr", "fait à 7 ce matin", UNSAID, UNSAID}, {"fr", "faits à 7 ce matin", UNSAID, UNSAID},
        {"fr", "c'est fait à 8", UNSAID, UNSAID},    {"fr", "j'ai fait à 9", UNSAID, UNSAID},
        {"fr", "fait pour 8", UNSAID, UNSAID},       {"fr", "fait entre 7 et 8", UNSAID, UNSAID},
        {"fr", "fait, entre 4 et 5", 4.5, UNSAID},   {"fr", "fait à 8h, 4", 4, UNSAID},
        {"fr", "fait à 5 heures", UNSAID, UNSAID},   {"fr", "on l'a fait à deux", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void whoever_is_spoken_to_rates_nothing(void **state)
{
    static const Form FORMS[] = {{"en", "Yes nurse, 4", 4, UNSAID},
                                 {"en", "no worries mate all done, 5, zero pain", 5, 0},
                                 {"en", "mate, all done, 4", 4, UNSAID},
                                 {"en", "my mate did his, 4", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_today_is_compared_to_is_not_today(void **state)
{
    static const Form FORMS[] = {{"en", "4, better than yesterdays 6", 4, UNSAID},
                                 {"en", "4 better than yesterday", 4, UNSAID},
                                 {"en", "I'd put it at 5, nothing hurting", 5, 0},
                                 {"en", "put the dinner on at 5", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void each_day_keeps_its_own_number(void **state)
{
    static const Form FORMS[] = {{"en", "yesterday was a 7 today only 3", 3, UNSAID},
                                 {"en", "The pain was 6 on Monday, it's 2 now. Done", UNSAID, 2},
                                 {"es", "ayer fue un 7 hoy solo 3", 3, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void a_number_and_nearly_the_next_are_one(void **state)
{
    static const Form FORMS[] = {{"en", "3, maybe 4", 3.5, UNSAID},
                                 {"en", "6 today, almost 7", 6.5, UNSAID},
                                 {"en", "3 today, nearly 4 miles walked", 3, UNSAID},
                                 {"en", "four-ish/five-ish", 4.5, UNSAID},
                                 {"en", "a wee twinge, 1 maybe. Stretch 4", 4, 1},
                                 {"es", "un 6 fuerte, casi 7", 6.5, UNSAID},
                                 {"fr", "3, peut-etre 4", 3.5, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void what_is_taken_back_is_no_rating(void **state)
{
    static const Form FORMS[] = {{"en", "5... no 6... call it 5.5", 5.5, UNSAID},
                                 {"en", "not quite a 5, so 4", 4, UNSAID},
                                 {"en", "5, no pain", 5, 0},
                                 {"en", "nine? no. eight. final answer", 8, UNSAID},
                                 {"en", "5, no, 4. no pain", 4, 0},
                                 {"en", "not a ten out of ten, more a 6", 6, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void the_scale_itself_and_a_share_are_no_ratings(void **state)
{
    static const Form FORMS[] = {{"es", "Del uno al diez, un tres", 3, UNSAID},
                                 {"en", "on a scale of 0 to 10 it was 4", 4, UNSAID},
                                 {"en", "\302\275 of them", UNSAID, UNSAID},
                                 {"fr", "2/3 des mouvements", UNSAID, UNSAID},
                                 {"en", "6/7 ish", 6.5, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

static void numerals_of_rome_count_among_small_letters(void **state)
{
    static const Form FORMS[] = {{"en", "IV out of X, as Caesar would say", 4, UNSAID},
                                 {"en", "Stretching: IV. Pain: 0.", 4, 0},
                                 {"en", "iv done them", UNSAID, UNSAID},
                                 {"en", "watched Henry VIII on the telly", UNSAID, UNSAID}};
    (void)state;
    check(FORMS, G_N_ELEMENTS(FORMS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_half_is_written_in_many_ways),
        cmocka_unit_test(dictation_hears_a_number_as_a_word_only_out_of_ten),
        cmocka_unit_test(a_height_a_year_and_a_row_of_repetitions_are_no_ratings),
        cmocka_unit_test(a_pain_that_has_gone_takes_no_number),
        cmocka_unit_test(two_numbers_at_the_end_are_the_report),
        cmocka_unit_test(a_word_between_brackets_is_that_of_the_number_before_it),
        cmocka_unit_test(points_that_trail_off_end_no_sentence),
        cmocka_unit_test(no_animal_takes_the_report_of_the_next_clause),
        cmocka_unit_test(a_day_that_something_else_is_told_of_is_not_that_of_the_report),
        cmocka_unit_test(digits_right_behind_what_was_done_are_the_rating),
        cmocka_unit_test(a_number_is_written_as_it_is_heard),
        cmocka_unit_test(a_number_of_another_matter_is_no_half_of_the_report),
        cmocka_unit_test(a_smile_behind_some_words_ends_a_sentence),
        cmocka_unit_test(what_is_corrected_by_its_name_keeps_its_place),
        cmocka_unit_test(mail_quoted_within_a_line_is_cut),
        cmocka_unit_test(a_rating_that_another_gives_is_not_the_clients),
        cmocka_unit_test(a_spoken_decimal_stands_before_the_word_of_the_next_number),
        cmocka_unit_test(two_sides_are_one_rating_whatever_stands_between),
        cmocka_unit_test(what_is_told_again_counts_once),
        cmocka_unit_test(an_article_and_a_pressure_are_no_ratings),
        cmocka_unit_test(scores_and_sayings_hold_no_rating),
        cmocka_unit_test(mark_up_holds_no_number),
        cmocka_unit_test(letters_held_down_and_points_for_spaces_hide_no_number),
        cmocka_unit_test(done_at_a_number_is_an_hour),
        cmocka_unit_test(whoever_is_spoken_to_rates_nothing),
        cmocka_unit_test(what_today_is_compared_to_is_not_today),
        cmocka_unit_test(each_day_keeps_its_own_number),
        cmocka_unit_test(a_number_and_nearly_the_next_are_one),
        cmocka_unit_test(what_is_taken_back_is_no_rating),
        cmocka_unit_test(the_scale_itself_and_a_share_are_no_ratings),
        cmocka_unit_test(numerals_of_rome_count_among_small_letters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
