/* SPDX-License-Identifier: Apache-2.0 */
/* A row of digits joined by points, slashes, colons and hyphens: a clock time, a date, a telephone number, a decimal, a range, a
 * rating out of ten. */
#include "core/talk/reading_inside.h"

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

/* "4/2": written as ratings are, with no zero before it. */
static bool is_rating(const Token *token)
{
    return token->value <= 10 && token->digit_count == 1 + (token->value == 10);
}

/* 4-5/10, 4.5/10 */
static int read_part_of_ten(const Work *work, int i, Number *number)
{
    const Token *a = token_at(work, i), *b = token_at(work, i + 1);

    number->value =
        b->joint == '-' ? (a->value + b->value) / 2 : a->value + b->value / pow(10, b->digit_count);
    number->kind = number->value > 10 ? NUMBER_OFF : NUMBER_RATING;
    return 3;
}

static int read_decimal(const Token *a, const Token *b, Number *number)
{
    bool quarters = b->value == 25 || b->value == 50 || b->value == 75;

    if (b->digit_count > 2 || (b->digit_count == 2 && !quarters))
        number->kind = NUMBER_COUNT; /* a clock time, a height, a price */
    number->value = a->value + b->value / pow(10, b->digit_count);
    number->whole = false;
    return 2;
}

/* Three and more: a date, a telephone number, if not a part of ten. */
static int read_row(const Work *work, int i, int run, Number *number)
{
    const Token *last = token_at(work, i + run - 1);
    char joint = token_at(work, i + 1)->joint;

    if (run == 3 && joint == '.' && last->joint == '/' && token_at(work, i + 1)->value == 5 &&
        token_at(work, i)->value <= 9 && token_at(work, i)->value >= last->value)
        return read_decimal(token_at(work, i), token_at(work, i + 1), number); /* "4.5/1" */
    if (run == 3 && last->joint == '/' && last->value == 10 &&
        (joint == '-' || joint == '.' || joint == ','))
        return read_part_of_ten(work, i, number);
    number->kind = NUMBER_COUNT;
    return run;
}

static int read_slash(const Work *work, int i, Number *number)
{
    const Token *a = token_at(work, i), *b = token_at(work, i + 1);
    bool alone = opens(work, i) && closes(work, i + 2);

    if (b->value == 10)
        number->kind = a->value > 10 ? NUMBER_OFF : NUMBER_RATING;
    else if ((b->value == 0 || (alone && b->value < a->value)) && is_rating(a) && is_rating(b))
        return 1; /* 4/2: the stretch and the pain; 8/8 may be all of eight */
    else if ((a->digit_count == 2 && a->value < 10) || (b->digit_count == 2 && b->value < 10))
        number->kind = NUMBER_COUNT; /* a date: 03/11 */
    else if (a->value > 10 && b->value != 0)
        number->kind = NUMBER_COUNT; /* 130/80, 25/6 */
    else
        number->kind = NUMBER_UNSURE;
    return 2;
}

static int read_hyphen(const Work *work, int i, Number *number)
{
    const Token *a = token_at(work, i), *b = token_at(work, i + 1);

    if (a->value < b->value && b->value <= 10) {
        if (a->value <= 1 && b->value == 10) number->kind = NUMBER_COUNT; /* the scale itself */
        number->value = (a->value + b->value) / 2;
        number->whole = false;
        return 2;
    }
    if (b->value == 0 && a->value <= 10) return 1;
    number->kind = a->value > 10 || b->value > 10 ? NUMBER_COUNT : NUMBER_UNSURE;
    return 2;
}

/* In some languages it may stand in a decimal; else between two numbers. */
static int read_comma(const Work *work, int i, Number *number)
{
    const Token *a = token_at(work, i), *b = token_at(work, i + 1);

    if (a->before == '[' && a->value < b->value && b->value <= 10) {
        number->value = (a->value + b->value) / 2; /* "[4,6]" */
        number->whole = false;
        return 2;
    }
    if (!work->rules->decimal_comma && b->value != 5) {
        bool two = b->value == 0 || (opens(work, i) && b->value <= a->value && a->value <= 10);
        if (!two) number->kind = NUMBER_UNSURE;
        return two ? 1 : 2;
    }
    if (b->value != 0 || b->digit_count != 1) return read_decimal(a, b, number);
    number->kind = NUMBER_UNSURE;
    return 2;
}

int number_read_digits(const Work *work, int i, Number *number)
{
    const Token *token = token_at(work, i);
    int run = 1;

    while (joined(work, i + run, ".:/-,"))
        run++;
    if (run == 1) {
        if (token->digit_count >= 4 || in_telephone(work, i)) number->kind = NUMBER_COUNT;
        return 1;
    }
    if (run >= 3) return read_row(work, i, run, number);
    if (pair_behind_word(work, i)) return 1;
    switch (token_at(work, i + 1)->joint) {
    case ':': number->kind = NUMBER_COUNT; return 2;
    case '/': return read_slash(work, i, number);
    case '-': return read_hyphen(work, i, number);
    case ',': return read_comma(work, i, number);
    default: return read_decimal(token, token_at(work, i + 1), number);
    }
}
