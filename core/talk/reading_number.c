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

static bool joined(const Work *work, int i, const char *marks)
{
    if (i >= token_count(work)) return false;
    const Token *token = token_at(work, i);
    return token->digits && token->joint != 0 && strchr(marks, token->joint) != NULL;
}

static bool is_group(const Work *work, int i)
{
    return i >= 0 && i < token_count(work) && token_at(work, i)->digits &&
           token_at(work, i)->digit_count >= 2;
}

/* Groups of digits in a row, or one that begins with zero, are no ratings: a telephone number, a date. */
static bool in_telephone(const Work *work, int i)
{
    enum { GROUPS = 6, LONG_GROUP = 3 };
    bool longer = false;
    int run = 0;

    if (!is_group(work, i)) return false;
    for (int k = i; is_group(work, k) && k > i - GROUPS; k--) {
        run++;
        longer |= token_at(work, k)->digit_count >= LONG_GROUP;
    }
    for (int k = i + 1; is_group(work, k) && k < i + GROUPS; k++) {
        run++;
        longer |= token_at(work, k)->digit_count >= LONG_GROUP;
    }
    bool zero = token_at(work, i)->value < pow(10, token_at(work, i)->digit_count - 1);
    return zero || run >= 3 || (run == 2 && longer);
}

static bool opens(const Work *work, int i)
{
    return i == 0 || token_at(work, i)->level >= LEVEL_CLAUSE || token_at(work, i)->before == ':';
}

static bool closes(const Work *work, int i)
{
    return i >= token_count(work) || token_at(work, i)->level >= LEVEL_CLAUSE;
}

/* "D/4/1", "d-3-2", "D 4/1": two numbers behind the word that opens the clause, which the same mark joins to them, or which is
 * one letter. */
static bool pair_behind_word(const Work *work, int i)
{
    const Token *a = token_at(work, i), *b = token_at(work, i + 1);

    if (i == 0 || token_at(work, i - 1)->digits || !opens(work, i - 1) || !closes(work, i + 2) ||
        a->value > 10 || b->value > a->value || a->digit_count != 1 + (a->value == 10) ||
        b->digit_count != 1 + (b->value == 10))
        return false;
    return a->joint == b->joint ||
           (a->joint == 0 && b->joint == '/' && token_at(work, i - 1)->folded_length == 1);
}

/* A row of digits joined by points, slashes, colons and hyphens: a clock time, a date, a telephone
 * number, a decimal, a range, a rating out of ten. */
static int read_joined(const Work *work, int i, Number *number)
{
    int run = 1;
    while (joined(work, i + run, ".:/-,"))
        run++;
    const Token *a = token_at(work, i), *b = run > 1 ? token_at(work, i + 1) : NULL;

    if (run == 1) {
        if (a->digit_count >= 4 || in_telephone(work, i)) number->kind = NUMBER_COUNT;
        return 1;
    }
    bool tens =
        token_at(work, i + run - 1)->joint == '/' && token_at(work, i + run - 1)->value == 10;
    if (run >= 3 && tens) { /* 4-5/10, 4.5/10 */
        Number inner = *number;
        if (run == 3 && (b->joint == '-' || b->joint == '.' || b->joint == ',')) {
            double half = b->joint == '-' ? (a->value + b->value) / 2
                                          : a->value + b->value / pow(10, b->digit_count);
            inner.value = half;
            inner.kind = half > 10 ? NUMBER_OFF : NUMBER_RATING;
            *number = inner;
            return 3;
        }
    }
    if (run >= 3) {
        number->kind = NUMBER_COUNT;
        return run;
    }
    if (pair_behind_word(work, i)) return 1;
    switch (b->joint) {
    case ':': number->kind = NUMBER_COUNT; return 2;
    case '/':
        if (b->value == 10)
            number->kind = a->value > 10 ? NUMBER_OFF : NUMBER_RATING;
        else if ((b->value == 0 || (opens(work, i) && closes(work, i + 2))) &&
                 b->value <= a->value && a->value <= 10 && a->digit_count == 1 + (a->value == 10) &&
                 b->digit_count == 1 + (b->value == 10))
            return 1; /* 4/2: the stretch and the pain */
        else if ((a->digit_count == 2 && a->value < 10) || (b->digit_count == 2 && b->value < 10))
            number->kind = NUMBER_COUNT; /* a date: 03/11 */
        else if (a->value > 10 && b->value != 0)
            number->kind = NUMBER_COUNT; /* 130/80, 25/6 */
        else
            number->kind = NUMBER_UNSURE;
        return 2;
    case '-':
        if (a->value < b->value && b->value <= 10) {
            number->value = (a->value + b->value) / 2;
            number->whole = false;
            return 2;
        }
        if (b->value == 0 && a->value <= 10) return 1;
        number->kind = a->value > 10 || b->value > 10 ? NUMBER_COUNT : NUMBER_UNSURE;
        return 2;
    default: /* a point or a comma */
        if (b->joint == ',' && !work->rules->decimal_comma && b->value != 5) {
            bool two = b->value == 0 || (opens(work, i) && b->value <= a->value && a->value <= 10);
            if (!two) number->kind = NUMBER_UNSURE;
            return two ? 1 : 2;
        }
        if (b->joint == ',' && b->value == 0 && b->digit_count == 1) {
            number->kind = NUMBER_UNSURE;
            return 2;
        }
        if (b->digit_count > 2 ||
            (b->digit_count == 2 && b->value != 50 && b->value != 25 && b->value != 75))
            number->kind = NUMBER_COUNT; /* a clock time, a height, a price */
        number->value = a->value + b->value / pow(10, b->digit_count);
        number->whole = false;
        return 2;
    }
}

/* "un 4": a number word right before a number is an article. */
static void drop_article(Work *work, int next)
{
    guint n = work->numbers->len;

    if (n > 0 && number_at(work, (int)n - 1)->weak && number_at(work, (int)n - 1)->end == next &&
        token_at(work, next)->level == LEVEL_NONE)
        g_array_set_size(work->numbers, n - 1);
}

void numbers_find(Work *work)
{
    int count = token_count(work);

    for (int i = 0; i < count;) {
        const Token *token = token_at(work, i);
        Number number = {.first = i, .whole = true, .kind = NUMBER_BARE};
        int used;
        if (token->digits) {
            number.value = token->value;
            number.whole = floor(token->value) == token->value;
            used = read_joined(work, i, &number);
            if (token->minus || (token->joint == '.' && i > 0 && token_at(work, i - 1)->digits))
                number.kind = NUMBER_OFF;
            int next = i + used;
            if (next < count && token_at(work, next)->digits && !token_at(work, next)->spaced &&
                token_at(work, next)->joint == 0 && token_at(work, next)->value < 1 &&
                token_at(work, next)->value > 0 &&
                number.whole) { /* 4 and a half, as one character */
                number.value += token_at(work, next)->value;
                number.whole = false;
                used++;
            }
        } else {
            used = read_words(work, i, &number.value);
            number.weak =
                used == 1 && token->word != 0 && rules_entry(work->rules, token->word)->weak;
            if (used == 0) number.heard = (used = read_heard(work, i, &number.value)) > 0;
            if (used == 0) number.weak = (used = read_roman(work, i, &number.value)) > 0;
        }
        if (used == 0) {
            i++;
            continue;
        }
        number.end = i + used;
        drop_article(work, i);
        g_array_append_val(work->numbers, number);
        i += used;
    }
}
