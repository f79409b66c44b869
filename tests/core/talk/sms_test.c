/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/talk/sms.h"

/* 3GPP TS 23.038 6.2.1, sixteen to a row, with a picture where ESC stands; the Unicode Consortium's
 * GSM0338.TXT gives the same. */
static const char *const ROWS[] = {
    "@£$¥èéùìòÇ\nØø\rÅå", "Δ_ΦΓΛΩΠΨΣΘΞ␀ÆæßÉ", " !\"#¤%&'()*+,-./", "0123456789:;<=>?",
    "¡ABCDEFGHIJKLMNO",   "PQRSTUVWXYZÄÖÑÜ§", "¿abcdefghijklmno",  "pqrstuvwxyzäöñüà",
};

static const struct {
    const char *character;
    int code;
} EXTENSION[] = {{"\f", 0x0a}, {"^", 0x14}, {"{", 0x28}, {"}", 0x29}, {"\\", 0x2f},
                 {"[", 0x3c},  {"~", 0x3d}, {"]", 0x3e}, {"|", 0x40}, {"€", 0x65}};

static void all_127_characters_have_their_code(void **state)
{
    int seen = 0;

    (void)state;
    for (int row = 0; row < 8; row++) {
        const char *at = ROWS[row];
        for (int column = 0; column < 16; column++, at = g_utf8_next_char(at)) {
            bool escape = row == 1 && column == 11;
            assert_int_equal(sms_code(g_utf8_get_char(at)), escape ? -1 : row * 16 + column);
            seen += !escape;
        }
        assert_int_equal(*at, '\0');
    }
    assert_int_equal(seen, 127);
    assert_int_equal(sms_code(0x1b), -1);
    assert_int_equal(sms_code(0), -1);
}

static void the_ten_of_the_extension_take_two_septets(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(EXTENSION); i++) {
        const char *text = EXTENSION[i].character;
        assert_int_equal(sms_code(g_utf8_get_char(text)), 0x1b00 | EXTENSION[i].code);
        assert_int_equal(sms_size(text).units, 2);
        assert_false(sms_size(text).ucs2);
    }
}

static void nothing_else_is_gsm7(void **state)
{
    const char *outside = "°`\t’“–—…çáíóúâêîôû•🙂";
    int inside = 0;

    (void)state;
    for (const char *at = outside; *at != '\0'; at = g_utf8_next_char(at))
        assert_int_equal(sms_code(g_utf8_get_char(at)), -1);
    for (gunichar c = 1; c < 0x110000; c++)
        inside += sms_code(c) >= 0;
    assert_int_equal(inside, 137);
}

/* "a" n times after a head. */
static char *text_of(const char *head, int n, const char *middle, int m)
{
    GString *text = g_string_new(head);

    for (int i = 0; i < n; i++)
        g_string_append_c(text, 'a');
    g_string_append(text, middle);
    for (int i = 0; i < m; i++)
        g_string_append_c(text, 'a');
    return g_string_free(text, FALSE);
}

static void check(const char *head, int n, const char *middle, int m, bool ucs2, int units,
                  int segments)
{
    g_autofree char *text = text_of(head, n, middle, m);
    SmsSize size = sms_size(text);

    assert_int_equal(size.ucs2, ucs2);
    assert_int_equal(size.units, units);
    assert_int_equal(size.segments, segments);
}

/* 3GPP TS 23.040 9.2.3.24.1: 160 and 153 septets, 70 and 67 units; no escape pair and no character
 * is split. */
static void gsm7_parts_hold_153(void **state)
{
    (void)state;
    check("", 160, "", 0, false, 160, 1);
    check("", 161, "", 0, false, 161, 2);
    check("", 306, "", 0, false, 306, 2);
    check("", 307, "", 0, false, 307, 3);
    check("", 158, "€", 0, false, 160, 1);
    check("", 159, "€", 0, false, 161, 2);
    check("É", 0, "", 0, false, 1, 1);
    check("", 255 * 153, "", 0, false, 39015, 255);
}

static void an_escape_pair_does_not_straddle(void **state)
{
    (void)state;
    check("", 152, "€", 151, false, 305, 2);
    check("", 152, "€", 152, false, 306, 3);
}

static void ucs2_parts_hold_67(void **state)
{
    (void)state;
    check("’", 69, "", 0, true, 70, 1);
    check("’", 70, "", 0, true, 71, 2);
    check("’", 133, "", 0, true, 134, 2);
    check("’", 134, "", 0, true, 135, 3);
    check("’", 65, "🙂", 66, true, 134, 3);
    check("Hip 45° today", 0, "", 0, true, 13, 1);
}

static void the_empty_text_has_no_segment(void **state)
{
    (void)state;
    check("", 0, "", 0, false, 0, 0);
    assert_null(sms_outside(""));
}

/* Seven bits a character, low bits first. */
static char *packed(const char *text)
{
    GString *hex = g_string_new(NULL);
    unsigned bits = 0;
    int held = 0;

    for (; *text != '\0'; text = g_utf8_next_char(text)) {
        bits |= (unsigned)sms_code(g_utf8_get_char(text)) << held;
        for (held += 7; held >= 8; held -= 8, bits >>= 8)
            g_string_append_printf(hex, "%02X", bits & 0xff);
    }
    if (held > 0) g_string_append_printf(hex, "%02X", bits & 0xff);
    return g_string_free(hex, FALSE);
}

/* The vector that handbooks of TS 23.038 6.1.2.1 show. */
static void codes_pack_as_the_known_vector(void **state)
{
    (void)state;
    g_autofree char *twice = packed("hellohello");
    g_autofree char *once = packed("hello");
    assert_string_equal(twice, "E8329BFD4697D9EC37");
    assert_string_equal(once, "E8329BFD06");
}

static void look_alikes_become_plain_and_accents_stay(void **state)
{
    (void)state;
    g_autofree char *plain = sms_plain("“Don’t” – 45° … 20 ° • 3 × 30\u00a0s\u200b");
    assert_string_equal(plain, "\"Don't\" - 45 deg ... 20 deg - 3 x 30 s");
    assert_null(sms_outside(plain));
    g_autofree char *accents = sms_plain("està más niño");
    assert_string_equal(accents, "està más niño");
    assert_string_equal(sms_outside(accents), "ás niño");
}

static void the_document_is_the_contract(void **state)
{
    json_t *document = sms_size_json(sms_size("Hip 45° today"));

    (void)state;
    g_autofree char *text = json_dumps(document, JSON_COMPACT);
    assert_string_equal(text, "{\"alphabet\":\"ucs2\",\"units\":13,\"segments\":1}");
    json_decref(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_127_characters_have_their_code),
        cmocka_unit_test(the_ten_of_the_extension_take_two_septets),
        cmocka_unit_test(nothing_else_is_gsm7),
        cmocka_unit_test(gsm7_parts_hold_153),
        cmocka_unit_test(an_escape_pair_does_not_straddle),
        cmocka_unit_test(ucs2_parts_hold_67),
        cmocka_unit_test(the_empty_text_has_no_segment),
        cmocka_unit_test(codes_pack_as_the_known_vector),
        cmocka_unit_test(look_alikes_become_plain_and_accents_stay),
        cmocka_unit_test(the_document_is_the_contract),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
