/* SPDX-License-Identifier: Apache-2.0 */
/* What each number of a text counts. A number is a rating only where nothing says that it is
 * something else: repetitions, minutes, a time of day, a date, an age. The words for that are the
 * pack's. */
#include "core/talk/reading_inside.h"

const Number *number_over(const Work *work, int token)
{
    bool any = token >= 0 && token < token_count(work) && work->number_of[token] >= 0;

    return any ? number_at(work, work->number_of[token]) : NULL;
}

static double word_number(const Work *work, int i)
{
    const Token *token = token_at(work, i);

    if (token->digits || token->word == 0 || token->fuzzy) return -1;
    return rules_entry(work->rules, token->word)->number;
}

/* Number words from token i on: "four", "twenty five", "one hundred". Tokens used, 0 for none. */
static int read_words(const Work *work, int i, double *value)
{
    int count = token_count(work), used = 1;
    double first = word_number(work, i);

    if (first < 0) return 0;
    *value = first;
    if (i + 1 < count && token_at(work, i + 1)->level == LEVEL_NONE) {
        double next = word_number(work, i + 1);
        if (first >= 20 && first < 100 && fmod(first, 10) == 0 && next >= 1 && next <= 9) {
            *value = first + next;
            used = 2;
        } else if (first >= 1 && first <= 9 && next == 100) {
            *value = first * 100;
            used = 2;
        }
    }
    return used;
}

/* "to out of ten", "fvie out of ten": what dictation or a hasty thumb writes for a number word, where ten follows over a
 * word or two. It counts only where join_scale makes a rating of it. */
static int read_heard(const Work *work, int i, double *value)
{
    enum { AHEAD = 3 };
    const Token *token = token_at(work, i);

    if (token->digits || token->word == 0) return 0;
    const Entry *entry = rules_entry(work->rules, token->word);
    *value = token->fuzzy ? entry->number : entry->heard;
    if (*value < 0) return 0;
    for (int k = i + 2; k <= i + AHEAD && k < token_count(work); k++)
        if (token_at(work, k)->digits ? token_at(work, k)->value == 10 : word_number(work, k) == 10)
            return 1;
    return 0;
}

/* Whether the sender wrote a token in capitals, in a text that is not all so. */
static bool capitals(const Work *work, const Token *token)
{
    bool mixed = token->from == 0 && token->to == work->length;

    for (int b = token->from; b < token->to; b++)
        if (!g_ascii_isupper(work->text[b])) return false;
    for (int b = 0; b < work->length && !mixed; b++)
        mixed = g_ascii_islower(work->text[b]);
    return mixed;
}

/* "IV out of X": the single letter stands a word or two behind a number. */
static bool behind_number(const Work *work, int i)
{
    enum { APART = 2 };
    int n = (int)work->numbers->len;

    return n > 0 && number_at(work, n - 1)->weak && i - number_at(work, n - 1)->end <= APART;
}

/* "IV", from II to X, as it stands in the text; a pack may know the letters as words. Tokens used, 0 for none. */
static int read_roman(const Work *work, int i, double *value)
{
    static const char *const NUMERALS[] = {"II", "III", "IV", "VI", "VII", "VIII", "IX", "X"};
    static const double VALUES[] = {2, 3, 4, 6, 7, 8, 9, 10};
    const Token *token = token_at(work, i);
    int used = 1;

    if (token->digits || token->to - token->from > 4 || !capitals(work, token)) return 0;
    while (i + used < token_count(work) && token_at(work, i + used)->from == token->from)
        used++;
    for (size_t n = 0; n < G_N_ELEMENTS(NUMERALS); n++) {
        int length = (int)strlen(NUMERALS[n]);
        if (length != token->to - token->from || (length == 1 && !behind_number(work, i)) ||
            strncmp(work->text + token->from, NUMERALS[n], (size_t)length) != 0)
            continue;
        *value = VALUES[n];
        return used;
    }
    return 0;
}

/* "un 4": a number word right before a number is an article. */
static void drop_article(Work *work, int next)
{
    guint n = work->numbers->len;

    if (n > 0 && number_at(work, (int)n - 1)->weak && number_at(work, (int)n - 1)->end == next &&
        token_at(work, next)->level == LEVEL_NONE)
        g_array_set_size(work->numbers, n - 1);
}

/* "4½": a half, as one character, behind a whole number. */
static bool is_fraction_behind(const Work *work, int next)
{
    if (next >= token_count(work)) return false;
    const Token *token = token_at(work, next);
    return token->digits && !token->spaced && token->joint == 0 && token->value > 0 &&
           token->value < 1;
}

static int read_digits(const Work *work, int i, Number *number)
{
    const Token *token = token_at(work, i);

    number->value = token->value;
    number->whole = floor(token->value) == token->value;
    int used = number_read_digits(work, i, number);
    if (token->minus || (token->joint == '.' && i > 0 && token_at(work, i - 1)->digits))
        number->kind = NUMBER_OFF;
    if (!number->whole || !is_fraction_behind(work, i + used)) return used;
    number->value += token_at(work, i + used)->value;
    number->whole = false;
    return used + 1;
}

static int read_written(const Work *work, int i, Number *number)
{
    const Token *token = token_at(work, i);
    int used = read_words(work, i, &number->value);

    number->weak = used == 1 && token->word != 0 && rules_entry(work->rules, token->word)->weak;
    if (used == 0) number->heard = (used = read_heard(work, i, &number->value)) > 0;
    if (used == 0) number->weak = (used = read_roman(work, i, &number->value)) > 0;
    return used;
}

void numbers_find(Work *work)
{
    for (int i = 0; i < token_count(work);) {
        Number number = {.first = i, .whole = true, .kind = NUMBER_BARE};
        int used = token_at(work, i)->digits ? read_digits(work, i, &number)
                                             : read_written(work, i, &number);
        if (used > 0) {
            number.end = i + used;
            drop_article(work, i);
            g_array_append_val(work->numbers, number);
        }
        i += MAX(used, 1);
    }
}
