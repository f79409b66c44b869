/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/talk/sms.h"
#include "core/talk/texts.h"
#include "core/talk/wording.h"
#include "tests/support/language.h"

static const char *const LANGUAGES[] = {"en", "es", "fr"};

static void placeholders_are_filled_once(void **state)
{
    g_autoptr(Pack) pack = language_words("en");

    (void)state;
    g_autofree char *told =
        wording(pack, "told", "emergency", "999", "clinic", "{emergency} & {clinic}", NULL);
    assert_string_equal(told, "We have told your clinic. Please do as our last text says, and do "
                              "not wait for us to ring. If it gets worse, ring 999. "
                              "{emergency} & {clinic}");
    g_autofree char *empty = wording(pack, "kind-pain", NULL);
    assert_string_equal(empty, "pain  of 10");
}

/* The values of a real clinic. */
static GHashTable *values_of_a_clinic(void)
{
    static const char *const PAIRS[][2] = {
        {"clinic", "Saltmarsh Lane Physiotherapy"},
        {"clinic_phone", "+442079460100"},
        {"after_hours_phone", "+442079460199"},
        {"phone", "+442079460100"},
        {"emergency", "999"},
        {"crisis", "+442079460116"},
        {"time", "08:30"},
        {"value", "8"},
        {"intensity", "4"},
        {"pain", "0"},
        {"initials", "AN"},
        {"client_code", "K7QF2M9T"},
        {"kind", "pain 8 of 10"},
        {"code", "7K2Q"},
        {"by", "R. Okafor"},
    };
    GHashTable *values = g_hash_table_new(g_str_hash, g_str_equal);

    for (size_t i = 0; i < G_N_ELEMENTS(PAIRS); i++)
        g_hash_table_insert(values, (char *)PAIRS[i][0], (char *)PAIRS[i][1]);
    return values;
}

static void every_sms_text_is_one_segment_without_a_brace_left(void **state)
{
    g_autoptr(GHashTable) values = values_of_a_clinic();
    size_t n;
    const TextRule *rules = text_rules(&n);

    (void)state;
    for (size_t l = 0; l < G_N_ELEMENTS(LANGUAGES); l++) {
        g_autoptr(Pack) pack = language_words(LANGUAGES[l]);
        for (size_t i = 0; i < n; i++) {
            if (rules[i].form != TEXT_SMS) continue;
            g_autofree char *text = wording_from(pack, rules[i].key, values);
            SmsSize size = sms_size(text);
            assert_null(strchr(text, '{'));
            assert_int_equal(size.segments, 1);
            assert_false(size.ucs2);
        }
    }
}

/* Words that a client's phone must not show to whoever looks at it. */
static void no_text_to_a_client_names_a_part_of_the_body(void **state)
{
    static const char *const PARTS[] = {
        "calf",    "hamstring", "knee",   "leg",     "spine",  "back pain",   "chest",   "heart",
        "bladder", "bowel",     "head",   "foot",    "pierna", "pantorrilla", "rodilla", "espalda",
        "pecho",   "cabeza",    "pie ",   "jambe",   "mollet", "genou",       "dos ",    "poitrine",
        "vessie",  "pied",      "osteop", "fractur", "stroke"};
    size_t n;
    const TextRule *rules = text_rules(&n);

    (void)state;
    for (size_t l = 0; l < G_N_ELEMENTS(LANGUAGES); l++) {
        g_autoptr(Pack) pack = language_words(LANGUAGES[l]);
        for (size_t i = 0; i < n; i++) {
            bool to_client = rules[i].form == TEXT_SMS && !g_str_has_prefix(rules[i].key, "alert-");
            if (!to_client && !g_str_has_prefix(rules[i].key, "reminder-mail")) continue;
            g_autofree char *folded = g_utf8_strdown(pack_text(pack, rules[i].key), -1);
            for (size_t p = 0; p < G_N_ELEMENTS(PARTS); p++)
                if (strstr(folded, PARTS[p]) != NULL)
                    fail_msg("%s %s: %s", LANGUAGES[l], rules[i].key, PARTS[p]);
        }
    }
}

static void every_warning_has_its_texts(void **state)
{
    static const char *const NOW[] = {"heart", "stroke", "cauda", "crisis", "pain-now"};
    static const char *const TODAY[] = {"clot", "fracture", "nerve", "fall", "pain"};
    static const char *const WHEN[] = {"", "-late", "-after"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(NOW); i++)
        for (size_t w = 0; w < G_N_ELEMENTS(WHEN); w++) {
            g_autofree char *now = g_strdup_printf("safety-%s%s", NOW[i], WHEN[w]);
            g_autofree char *today = g_strdup_printf("safety-%s%s", TODAY[i], WHEN[w]);
            assert_int_equal(text_rule(now) != NULL, w < 2);
            assert_non_null(text_rule(today));
        }
}

static void a_kind_has_words_and_an_unknown_one_has_some(void **state)
{
    static const struct {
        const char *kind;
        const char *value;
        const char *words;
    } cases[] = {{"pain", "8", "pain 8 of 10"},
                 {"pain", NULL, "pain, no number given"},
                 {"pain", "", "pain, no number given"},
                 {"missed-run", "3", "3 missed days in a row"},
                 {"fall", NULL, "fall"},
                 {"strong-stretch", "9", "strong stretch 9 of 10"},
                 {"no such kind", NULL, "please look"}};
    g_autoptr(Pack) pack = language_words("en");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *words = wording_kind(pack, cases[i].kind, cases[i].value);
        assert_string_equal(words, cases[i].words);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(placeholders_are_filled_once),
        cmocka_unit_test(every_sms_text_is_one_segment_without_a_brace_left),
        cmocka_unit_test(no_text_to_a_client_names_a_part_of_the_body),
        cmocka_unit_test(every_warning_has_its_texts),
        cmocka_unit_test(a_kind_has_words_and_an_unknown_one_has_some),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
