/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/reading_fold.h"

typedef struct {
    gunichar from;
    const char *to;
} Same;

/* Letters that no decomposition takes apart, and punctuation that means the same as an ASCII
 * character. */
static const Same SAME[] = {
    {0x00E6, "ae"}, {0x0153, "oe"}, {0x00F8, "o"},  {0x0142, "l"},  {0x00DF, "ss"}, {0x0131, "i"},
    {0x0111, "d"},  {0x2013, "-"},  {0x2014, "-"},  {0x2212, "-"},  {0x2010, "-"},  {0x2011, "-"},
    {0x2026, "."},  {0x2044, "/"},  {0x201C, "\""}, {0x201D, "\""}, {0x00AB, "\""}, {0x00BB, "\""},
    {0x00BF, ","},  {0x00A1, ","},  {0x3002, "."},  {0x00D7, "x"},  {0x2022, ";"},  {0x00B7, ","},
};

static const char *same(gunichar c)
{
    for (size_t i = 0; i < G_N_ELEMENTS(SAME); i++)
        if (SAME[i].from == c) return SAME[i].to;
    return NULL;
}

static void append(Fold *fold, gunichar c)
{
    if (fold->length + 6 < (int)sizeof fold->text)
        fold->length += g_unichar_to_utf8(c, fold->text + fold->length);
    fold->text[fold->length] = '\0';
}

static void append_text(Fold *fold, const char *text)
{
    for (; *text != '\0'; text++)
        append(fold, (guchar)*text);
}

static double fraction_value(gunichar c)
{
    switch (c) {
    case 0x00BC: return 0.25;
    case 0x00BD: return 0.5;
    case 0x00BE: return 0.75;
    case 0x2153: return 1.0 / 3;
    case 0x2154: return 2.0 / 3;
    default: return 0;
    }
}

static bool is_apostrophe(gunichar c)
{
    return c == '\'' || c == 0x2019 || c == 0x2018 || c == 0x02BC || c == 0x00B4 || c == '`' ||
           c == 0xFF07;
}

/* Characters that carry no meaning in a text. */
static bool is_nothing(gunichar c)
{
    if (c == 0x20E3 || (c >= 0xFE00 && c <= 0xFE0F) || (c >= 0x1F3FB && c <= 0x1F3FF)) return true;
    switch (g_unichar_type(c)) {
    case G_UNICODE_FORMAT:
    case G_UNICODE_NON_SPACING_MARK:
    case G_UNICODE_ENCLOSING_MARK: return true;
    default: return false;
    }
}

/* The fast path, and nine in ten characters of any text. */
static void fold_ascii(gunichar c, Fold *fold)
{
    fold->text[0] = (char)g_ascii_tolower((char)c);
    fold->text[1] = '\0';
    fold->length = 1;
    if (g_ascii_isalpha((char)c)) {
        fold->kind = FOLD_LETTER;
    } else if (g_ascii_isdigit((char)c)) {
        fold->kind = FOLD_DIGIT;
        fold->value = c - '0';
    } else if (c == '\n' || c == '\r') {
        fold->kind = FOLD_LINE;
    } else if (c <= ' ' || c == 0x7F) {
        fold->kind = FOLD_SPACE;
    } else if (c == '\'' || c == '`') {
        fold->kind = FOLD_APOSTROPHE;
    } else if (strchr("&%$@", (int)c) != NULL) {
        fold->kind = FOLD_PICTURE;
    } else {
        fold->kind = FOLD_MARK;
    }
}

/* The letters of Latin-1 that are one of ASCII with an accent (Unicode, U+00C0 on), a point where none is. */
static const char ACCENTED[] = "aaaaaa.ceeeeiiii.nooooo..uuuuy..aaaaaa.ceeeeiiii.nooooo..uuuuy.y";

/* False where it is none of these. */
static bool fold_accented(gunichar c, Fold *fold)
{
    if (c < 0xC0 || c > 0xFF || ACCENTED[c - 0xC0] == '.') return false;
    fold->kind = FOLD_LETTER;
    fold->text[0] = ACCENTED[c - 0xC0];
    fold->text[1] = '\0';
    fold->length = 1;
    return true;
}

static void fold_letters(gunichar c, Fold *fold)
{
    gunichar parts[FOLD_MAX];
    gsize n = g_unichar_fully_decompose(c, TRUE, parts, FOLD_MAX);

    fold->kind = FOLD_LETTER;
    for (gsize i = 0; i < MIN(n, (gsize)FOLD_MAX); i++) {
        gunichar lower = g_unichar_tolower(parts[i]);
        const char *other = same(lower);
        if (is_nothing(lower)) continue;
        if (other != NULL)
            append_text(fold, other);
        else
            append(fold, lower);
    }
    if (fold->length == 0)
        fold->kind = FOLD_NOTHING;
    else if (fold->length == 1 && g_ascii_isdigit(fold->text[0])) {
        fold->kind = FOLD_DIGIT;
        fold->value = fold->text[0] - '0';
    }
}

void fold_char(gunichar c, Fold *fold)
{
    fold->kind = FOLD_NOTHING;
    fold->length = 0;
    fold->text[0] = '\0';
    fold->value = 0;
    if (c < 0x80) {
        fold_ascii(c, fold);
        return;
    }
    if (fold_accented(c, fold)) return;
    const char *other = same(c);
    if (is_apostrophe(c)) {
        fold->kind = FOLD_APOSTROPHE;
        append(fold, '\'');
    } else if (other != NULL) {
        append_text(fold, other);
        fold->kind = g_ascii_isalpha(fold->text[0]) ? FOLD_LETTER : FOLD_MARK;
    } else if (is_nothing(c)) {
        return;
    } else if (fraction_value(c) > 0) {
        fold->kind = FOLD_FRACTION;
        fold->value = fraction_value(c);
    } else if (c == 0x1F51F || c == 0x2469) { /* keycap ten, circled ten */
        fold->kind = FOLD_DIGIT;
        fold->value = 10;
        append_text(fold, "10");
    } else if (g_unichar_digit_value(c) >= 0) {
        fold->kind = FOLD_DIGIT;
        fold->value = g_unichar_digit_value(c);
        append(fold, (gunichar)('0' + (int)fold->value));
    } else if (g_unichar_isspace(c)) {
        fold->kind = c == 0x2028 || c == 0x2029 || c == 0x85 ? FOLD_LINE : FOLD_SPACE;
    } else if (g_unichar_iscntrl(c)) {
        fold->kind = FOLD_SPACE;
    } else if (g_unichar_ispunct(c) && g_unichar_type(c) != G_UNICODE_OTHER_SYMBOL &&
               g_unichar_type(c) != G_UNICODE_CURRENCY_SYMBOL) {
        gunichar parts[FOLD_MAX];
        gsize n = g_unichar_fully_decompose(c, TRUE, parts, FOLD_MAX);
        fold->kind = FOLD_MARK;
        append(fold, n >= 1 && parts[0] < 0x80 && parts[0] > ' ' ? parts[0] : ',');
    } else if (g_unichar_type(c) == G_UNICODE_OTHER_SYMBOL && (c < 0x2460 || c > 0x24FF)) {
        fold->kind = FOLD_PICTURE;
        append(fold, c);
    } else {
        fold_letters(c, fold);
        if (fold->kind == FOLD_LETTER && !g_unichar_isalnum(c) && fold->length > 0 &&
            !g_unichar_isalpha(g_utf8_get_char(fold->text)))
            fold->kind = FOLD_PICTURE;
    }
}

char *fold_word(const char *word)
{
    GString *out = g_string_sized_new(strlen(word));
    Fold fold;

    for (const char *p = word; *p != '\0'; p = g_utf8_next_char(p)) {
        if (g_ascii_isalpha(*p)) {
            g_string_append_c(out, (char)(*p | 0x20));
            continue;
        }
        fold_char(g_utf8_get_char(p), &fold);
        if (fold.kind == FOLD_APOSTROPHE)
            g_string_append_c(out, '\'');
        else if (fold.kind == FOLD_SPACE || fold.kind == FOLD_LINE)
            g_string_append_c(out, ' ');
        else
            g_string_append_len(out, fold.text, fold.length);
    }
    return g_string_free(out, FALSE);
}
