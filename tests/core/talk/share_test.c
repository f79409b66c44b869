/* SPDX-License-Identifier: Apache-2.0 */
/* Who has which letter on a shared phone, and whose an answer is. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "core/talk/share.h"

#define SHARERS_MAX 4

/* --- letters --- */

typedef struct {
    const char *names[SHARERS_MAX]; /* in the order in which they became clients */
    const char *letters;            /* '-' for none */
} Phone;

static void have(const Phone *phone, const char *offered)
{
    const char *lists[SHARERS_MAX];
    char letters[SHARERS_MAX + 1] = {0};
    int n = 0;

    for (; n < SHARERS_MAX && phone->names[n] != NULL; n++)
        lists[n] = offered;
    share_letters(phone->names, lists, n, letters);
    for (int i = 0; i < n; i++)
        if (letters[i] == 0) letters[i] = '-';
    if (strcmp(letters, phone->letters) != 0)
        fail_msg("%s and others: %s, not %s", phone->names[0], letters, phone->letters);
}

static void each_has_the_first_letter_of_the_name_that_is_left(void **state)
{
    static const Phone PHONES[] = {
        {{"Leonard Hathaway", "Doreen Hathaway"}, "LR"},
        {{"Leonard Hathaway", "Doreen Hathaway", "Lily Hathaway"},
         "LRH"}, /* who comes later changes nothing */
        {{"Rita Moss", "Rita Moss"}, "RT"},
        {{"Ada", "Abe", "Dee"}, "FGH"}, /* nothing in the name */
        {{"H\303\251l\303\250ne", "\303\211dith"}, "HT"},
        {{"\346\235\216\345\260\217\351\276\231", "ola"}, "FL"},
        {{"", "l"}, "FL"},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(PHONES); i++)
        have(&PHONES[i], "FGHJLMRTVWZ");
    have(&(Phone){{"Rita", "Rose", "Fay"}, "RF-"}, "FR"); /* the list is at its end */
}

static void each_has_a_letter_of_the_own_language(void **state)
{
    const char *const names[] = {"Leonard", "Lucie"}, *const lists[] = {"FGHJLM", "HKRVWZ"};
    char letters[2];

    (void)state;
    share_letters(names, lists, 2, letters);
    assert_memory_equal(letters, "LH", 2);
}

/* --- answers --- */

static GPtrArray *packs;

static int load_packs(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    packs = packs_load(NULL, messages);
    assert_int_equal(messages->len, 0);
    return 0;
}

static int free_packs(void **state)
{
    (void)state;
    g_ptr_array_unref(packs);
    return 0;
}

static const Pack *pack_of(const char *language)
{
    for (guint i = 0; i < packs->len; i++)
        if (strcmp(pack_language(packs->pdata[i]), language) == 0) return packs->pdata[i];
    fail_msg("no pack %s", language);
    return NULL;
}

typedef struct {
    const char *text;
    char letter;      /* 0: nobody's for certain */
    const char *rest; /* what is read then */
} Said;

/* On the phone of two who have these letters. */
static void say(const char *language, const char *taken, const Said *said, size_t n)
{
    const Pack *pack = pack_of(language);

    for (size_t i = 0; i < n; i++) {
        const char *rest = NULL;
        char letter = share_letter_of(said[i].text, &rest);
        if (letter != 0 &&
            (strchr(taken, letter) == NULL || !share_is_answer(&pack, 1, taken, rest)))
            letter = 0;
        if (letter != said[i].letter)
            fail_msg("%s '%s': %c", language, said[i].text, letter != 0 ? letter : '-');
        if (letter != 0) assert_string_equal(rest, said[i].rest);
    }
}

static void english(void **state)
{
    static const Said SAID[] = {
        {"R D 4 0", 'R', "D 4 0"},
        {"r d 4 p0", 'R', "d 4 p0"},
        {"L N", 'L', "N"},
        {"L: n", 'L', "n"},
        {"R. D 4 P0", 'R', "D 4 P0"},
        {"R, done 4, no pain", 'R', "done 4, no pain"},
        {"R; D", 'R', "D"},
        {"R - D 4 P0", 'R', "D 4 P0"},
        {"(R) D 4 P0", 'R', "D 4 P0"},
        {"R) D", 'R', "D"},
        {"R\nD 4 0", 'R', "D 4 0"},
        {" \r\n R  D4P0", 'R', "D4P0"},
        {"R D 4 P8", 'R', "D 4 P8"},
        {"R 4 0", 'R', "4 0"},
        {"R 4\357\270\217\342\203\243 P0", 'R', "4\357\270\217\342\203\243 P0"},
        {"R four, no pain", 'R', "four, no pain"},
        {"R P 3", 'R', "P 3"},
        {"R P3", 'R', "P3"},
        {"R pain 3", 'R', "pain 3"},
        {"R PAIN", 'R', "PAIN"},
        {"R STRETCH 8", 'R', "STRETCH 8"},
        {"R yes", 'R', "yes"},
        {"R no", 'R', "no"},
        {"R not done", 'R', "not done"},
        {"R not today", 'R', "not today"},
        {"R LETTER B", 'R', "LETTER B"},
        {"R B", 'R', "B"},
        {"R A", 'R', "A"},
        {"R D 4 P0 I'm fine", 'R', "D 4 P0 I'm fine"},
        {"R D 4 P0 but I fell on the stairs", 'R', "D 4 P0 but I fell on the stairs"},
        /* nobody's for certain */
        {"D 4 0", 0, NULL},
        {"N", 0, NULL},
        {"Doreen D 4 0", 0, NULL},
        {"R", 0, NULL},
        {"", 0, NULL},
        {"  ", 0, NULL},
        {"RD 4 0", 0, NULL},
        {"R4 P0", 0, NULL},
        {"L D 4 0, R N", 0, NULL},
        {"L D 4 0 R D 3 0", 0, NULL},
        {"R 4 L 3", 0, NULL},
        {"R 4 M 3", 0, NULL}, /* a letter that somebody may have */
        {"M D 4 0", 0, NULL},
        {"L is poorly", 0, NULL},
        {"L fell", 0, NULL},
        {"L is in hospital", 0, NULL},
        {"R STOP", 0, NULL},
        {"R HELP", 0, NULL},
        {"R START", 0, NULL},
        {"R D 4 0, please stop these texts", 0, NULL},
        {"R D 4 0. My husband died last night", 0, NULL},
        {"R D 4 0, my wife died", 0, NULL},
        {"R D 4 P0. My husband has chest pain", 0, NULL}, /* who may be L */
        {"R N, my husband fell", 0, NULL},
        {"R leg 4", 0, NULL},
        {"R leg not yet", 0, NULL},
        {"R not well", 0, NULL},
        {"R a bit sore", 0, NULL},
        {"R what time is it", 0, NULL},
        {"R, please ring me", 0, NULL},
        {"R'D 4", 0, NULL},
    };

    (void)state;
    say("en", "LR", SAID, G_N_ELEMENTS(SAID));
}

static void spanish(void **state)
{
    static const Said SAID[] = {
        {"M SI 4 0", 'M', "SI 4 0"},
        {"m s\303\255 4 0", 'M', "s\303\255 4 0"},
        {"J NO", 'J', "NO"},
        {"J: no", 'J', "no"},
        {"M. hecho 4, sin dolor", 'M', "hecho 4, sin dolor"},
        {"M 4 0", 'M', "4 0"},
        {"M cuatro y nada de dolor", 'M', "cuatro y nada de dolor"},
        {"M DOLOR 3", 'M', "DOLOR 3"},
        {"M ESTIRAMIENTO 8", 'M', "ESTIRAMIENTO 8"},
        {"M LETRA B", 'M', "LETRA B"},
        {"M C", 'M', "C"},
        {"SI 4 0", 0, NULL},
        {"Y SI 4 0", 0, NULL},
        {"M est\303\241 malo", 0, NULL},
        {"M STOP", 0, NULL},
        {"M NO, se ha ca\303\255do mi mujer", 0, NULL},
        {"M SI 4 0, J NO", 0, NULL},
        {"MSI 4 0", 0, NULL},
    };

    (void)state;
    say("es", "MJ", SAID, G_N_ELEMENTS(SAID));
}

static void french(void **state)
{
    static const Said SAID[] = {
        {"H OUI 4 0", 'H', "OUI 4 0"},
        {"h oui 4 0", 'H', "oui 4 0"},
        {"R NON", 'R', "NON"},
        {"R : non", 'R', "non"},
        {"H fait, 4, pas de douleur", 'H', "fait, 4, pas de douleur"},
        {"H 4 0", 'H', "4 0"},
        {"H quatre et z\303\251ro", 'H', "quatre et z\303\251ro"},
        {"H DOULEUR 3", 'H', "DOULEUR 3"},
        {"H ETIREMENT 8", 'H', "ETIREMENT 8"},
        {"H LETTRE B", 'H', "LETTRE B"},
        {"H B", 'H', "B"},
        {"H OUI 4 0, j'ai bien dormi", 'H', "OUI 4 0, j'ai bien dormi"},
        {"OUI 4 0", 0, NULL},
        {"H est malade", 0, NULL},
        {"H STOP", 0, NULL},
        {"H OUI 4 0. Mon mari a mal dans la poitrine", 0, NULL},
        {"H OUI 4 0, R NON", 0, NULL},
        {"HOUI 4 0", 0, NULL},
    };

    (void)state;
    say("fr", "HR", SAID, G_N_ELEMENTS(SAID));
}

static void a_name_of_the_other_is_found(void **state)
{
    (void)state;
    assert_true(share_names_other("D 4 0. leonard fell", "Doreen Hathaway", "Leonard Hathaway"));
    assert_true(share_names_other("OUI, Helene NON", "Victor B", "H\303\251l\303\250ne B"));
    assert_false(share_names_other("D 4, Mrs Hathaway", "Doreen Hathaway", "Leonard Hathaway"));
    assert_false(share_names_other("NO de la L", "Julia Gil", "L. de la Cruz"));
    assert_false(share_names_other("", "", ""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_has_the_first_letter_of_the_name_that_is_left),
        cmocka_unit_test(each_has_a_letter_of_the_own_language),
        cmocka_unit_test(english),
        cmocka_unit_test(spanish),
        cmocka_unit_test(french),
        cmocka_unit_test(a_name_of_the_other_is_found),
    };
    return cmocka_run_group_tests(tests, load_packs, free_packs);
}
