/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/peer/code.h"

#include <string.h>

#define LETTERS "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
#define KEY_LETTERS 12
#define CODE_LETTERS (KEY_LETTERS + TOKEN_LETTERS)
#define LETTER_BITS 5
#define GROUP 5

static uint64_t beginning(const uint8_t *fingerprint)
{
    uint64_t bits = 0;

    for (int i = 0; i < 8; i++)
        bits = bits << 8 | fingerprint[i];
    return bits >> 4;
}

/* So many letters for the lowest bits of a number, the most significant first. */
static void spell(uint64_t bits, int letters, char *out)
{
    for (int i = letters - 1; i >= 0; i--, bits >>= LETTER_BITS)
        out[i] = LETTERS[bits & 31];
}

char *code_make(const uint8_t fingerprint[FINGERPRINT_BYTES], uint64_t token)
{
    char letters[CODE_LETTERS];
    GString *code = g_string_new(NULL);

    spell(beginning(fingerprint), KEY_LETTERS, letters);
    spell(token, TOKEN_LETTERS, letters + KEY_LETTERS);
    for (int i = 0; i < CODE_LETTERS; i++) {
        if (i > 0 && i % GROUP == 0) g_string_append_c(code, '-');
        g_string_append_c(code, letters[i]);
    }
    return g_string_free(code, FALSE);
}

static char meant(gunichar letter)
{
    switch (letter) {
    case '0': return 'O';
    case '1': return 'I';
    case '8': return 'B';
    default: return letter < 128 ? g_ascii_toupper((char)letter) : '\0';
    }
}

static bool is_filling(gunichar letter)
{
    return g_unichar_isspace(letter) || g_unichar_ispunct(letter) ||
           g_unichar_type(letter) == G_UNICODE_FORMAT;
}

bool code_read(const char *text, PairingCode *code)
{
    char letters[CODE_LETTERS];
    int n = 0;
    uint64_t bits = 0;

    if (!g_utf8_validate(text, -1, NULL)) return false;
    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        if (is_filling(letter)) continue;
        char plain = meant(letter);
        if (plain == '\0' || strchr(LETTERS, plain) == NULL || n == CODE_LETTERS) return false;
        letters[n++] = plain;
    }
    if (n != CODE_LETTERS) return false;
    for (int i = 0; i < KEY_LETTERS; i++)
        bits = bits << LETTER_BITS | (uint64_t)(strchr(LETTERS, letters[i]) - LETTERS);
    bits <<= 4;
    for (int i = 7; i >= 0; i--, bits >>= 8)
        code->key[i] = (uint8_t)bits;
    memcpy(code->token, letters + KEY_LETTERS, TOKEN_LETTERS);
    code->token[TOKEN_LETTERS] = '\0';
    return true;
}

bool code_fits(const PairingCode *code, const uint8_t fingerprint[FINGERPRINT_BYTES])
{
    return memcmp(code->key, fingerprint, 7) == 0 &&
           (code->key[7] & 0xf0) == (fingerprint[7] & 0xf0);
}
