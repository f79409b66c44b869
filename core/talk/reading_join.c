/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers that are one: a spoken decimal, a range, a rating out of ten, a half. */
#include "core/talk/reading_inside.h"

/* "four point five pain zero": the word behind a number is that of the next one. */
static bool label_of_next(const Work *work, const Number *number)
{
    int length = MAX(role_starts(work, ROLE_PAIN_LABEL, number->end),
                     role_starts(work, ROLE_STRETCH_LABEL, number->end));

    for (int i = 0; length > 0 && i < (int)work->numbers->len; i++)
        if (number_at(work, i)->first == number->end + length) return true;
    return false;
}

/* Whether nothing follows a number in its clause that it may belong to: "cinco con cinco", not "5
 * con 1 de dolor". */
static bool rounds_off(const Work *work, const Number *number)
{
    static const Role BEHIND[] = {ROLE_OUT_OF, ROLE_TAIL, ROLE_AND, ROLE_BUT, ROLE_NOT};

    if (number->end >= token_count(work) || token_level(work, number->end) >= LEVEL_CLAUSE)
        return true;
    for (size_t r = 0; r < G_N_ELEMENTS(BEHIND); r++)
        if (role_starts(work, BEHIND[r], number->end) > 0 &&
            (BEHIND[r] != ROLE_OUT_OF || role_starts(work, ROLE_PAIN_LABEL, number->end + 1) == 0))
            return true;
    return label_of_next(work, number);
}

/* A spoken decimal ("four point five"). */
static bool join_point(const Work *work, Number *number, const Number *next)
{
    int point = role_starts(work, ROLE_POINT, number->end);

    if (number->kind != NUMBER_BARE || !number->whole || point == 0 ||
        token_level(work, number->end) != LEVEL_NONE ||
        token_level(work, next->first) != LEVEL_NONE || next->first != number->end + point ||
        next->value >= 10 || !next->whole || !rounds_off(work, next) ||
        (role_starts(work, ROLE_AND, number->end) > 0 && next->value != 5))
        return false; /* "cuatro con cinco", but "4 con 1" are two */
    number->value += next->value / 10;
    number->end = next->end;
    number->whole = number->weak = false;
    return true;
}

/* No break from a token up to another, but a comma before the first where that is allowed. */
static bool together(const Work *work, int from, int to, bool comma)
{
    if (token_level(work, from) > (comma ? LEVEL_CLAUSE : LEVEL_NONE)) return false;
    for (int i = from + 1; i <= to; i++)
        if (token_level(work, i) != LEVEL_NONE) return false;
    return true;
}

/* "6 today, nearly 7": a word that goes with the first, and the next number is one more. */
static bool nearly(const Work *work, const Number *number, const Number *next)
{
    int after = role_starts(work, ROLE_NUMBER_AFTER, number->end);
    int range = role_starts(work, ROLE_RANGE, number->end + after);

    if (role_starts(work, ROLE_UNIT, next->end) > 0) return false;
    return after > 0 && range > 0 && token_level(work, number->end) == LEVEL_NONE &&
           next->value == number->value + 1 && next->first == number->end + after + range &&
           together(work, number->end + after, next->first, true);
}

/* "four-ish/five-ish": a number and the next one, with a stroke between. */
static bool struck(const Work *work, const Number *number, const Number *next)
{
    int ish = next->first - number->end;

    return next->value == number->value + 1 && token_at(work, next->first)->joint == '/' &&
           !token_at(work, next->first)->digits &&
           (ish == 0 || ish == role_starts(work, ROLE_NUMBER_AFTER, number->end));
}

bool number_left(const Work *work, const Number *number)
{
    int length = role_ends(work, ROLE_COUNT_BEFORE, number->first);

    for (int i = number->first - length + 1; i < number->first; i++)
        if (role_starts(work, ROLE_OUT_OF, i) == 1) return true;
    return false;
}

/* "4 to 5", "4 or 5", "4 - 5", "4, maybe 5": the middle. */
static bool join_range(const Work *work, Number *number, const Number *next)
{
    int word = role_starts(work, ROLE_RANGE, number->end);
    bool dash = next->first == number->end && token_at(work, next->first)->before == '-' &&
                token_at(work, next->first)->level == LEVEL_CLAUSE;
    if (word == 0 && role_ends(work, ROLE_BETWEEN, number->first) > 0)
        word = role_starts(work, ROLE_AND, number->end);
    if (word > 0 && next->first == number->end + word + 1 &&
        role_ends(work, ROLE_NUMBER_BEFORE, next->first) > 0)
        word++; /* "a 4 and a 5" */
    bool linked = struck(work, number, next) || nearly(work, number, next) ||
                  (word > 0 && next->first == number->end + word &&
                   together(work, number->end, next->first, next->value == number->value + 1));

    if (number->kind != NUMBER_BARE || (!dash && !linked) || number_left(work, number) ||
        (next->kind != NUMBER_BARE && next->kind != NUMBER_RATING) ||
        number->value >= next->value || next->value > 10)
        return false;
    if (number->value <= 1 && next->value == 10)
        number->kind = NUMBER_COUNT; /* "from 1 to 10": the scale itself */
    else
        number->kind = next->kind;
    number->value = (number->value + next->value) / 2;
    number->end = next->end;
    number->whole = number->weak = false;
    return true;
}

/* "stopped at rep 6 of 10": how far, and not how strong; but "10 reps, 6 of 10". */
static bool in_row(const Work *work, const Number *number)
{
    int unit = role_ends(work, ROLE_DOSE_UNIT, number->first);

    if (unit == 0 || token_level(work, number->first) != LEVEL_NONE) return false;
    for (int i = 0; i < (int)work->numbers->len; i++)
        if (number_at(work, i)->end == number->first - unit) return false;
    return true;
}

/* "4 d 10": a letter that may as well begin the next report, as in "4 D0" or "F5 D10", is "of" only before a ten that
 * stands apart. */
static bool opens_next(const Work *work, int word, const Number *next)
{
    return role_covers(work, ROLE_YES, word) &&
           (next->value != 10 || !token_at(work, next->first)->spaced || word > 1);
}

/* "4 out of 10", "6 of 8"; "1 of both sides", where the pack says that this goes with a rating, is none. */
static bool join_scale(const Work *work, Number *number, const Number *next)
{
    int word = role_starts(work, ROLE_OUT_OF, number->end);

    if (word == 0 || number->kind != NUMBER_BARE || next->kind != NUMBER_BARE ||
        role_starts(work, ROLE_NUMBER_AFTER, number->end) > next->end - number->end ||
        next->first != number->end + word || token_level(work, number->end) == LEVEL_SENTENCE ||
        role_ends(work, ROLE_NOT, next->first) > word || /* "down to 1 from 4" */
        opens_next(work, number->end, next))
        return false;
    if (next->value == 10 && in_row(work, number))
        number->kind = NUMBER_COUNT;
    else if (next->value == 10)
        number->kind = number->value > 10 ? NUMBER_OFF : NUMBER_RATING;
    else
        number->kind = next->value == 5 || next->value == 100 ? NUMBER_OFF : NUMBER_COUNT;
    number->end = next->end;
    number->weak = false;
    return true;
}

/* "4 1/2": a half as it is written. */
static bool join_fraction(const Work *work, Number *number, const Number *next)
{
    if (number->kind != NUMBER_BARE || !number->whole || next->kind != NUMBER_UNSURE ||
        next->first != number->end || next->end - next->first != 2 ||
        token_level(work, next->first) != LEVEL_NONE || token_at(work, next->first)->value != 1 ||
        token_at(work, next->first + 1)->joint != '/' ||
        token_at(work, next->first + 1)->value != 2)
        return false;
    number->value += 0.5;
    number->end = next->end;
    number->whole = number->weak = false;
    return true;
}

/* "cuatro (4)", "5 (five)": one number, once in words and once in digits. */
static bool join_repeat(const Work *work, Number *number, const Number *next)
{
    bool digits = token_at(work, number->first)->digits;

    if (number->kind != NUMBER_BARE || next->kind != NUMBER_BARE || number->value != next->value ||
        next->first != number->end || digits == token_at(work, next->first)->digits)
        return false;
    number->end = next->end;
    number->weak = false;
    return true;
}

/* "and a half". */
static void join_half(const Work *work, Number *number)
{
    int half = token_level(work, number->end) == LEVEL_NONE
                   ? role_starts(work, ROLE_HALF, number->end)
                   : 0;

    if (half == 0 || number->kind != NUMBER_BARE || !number->whole) return;
    number->value += 0.5;
    number->end += half;
    number->whole = number->weak = false;
}

void numbers_join(Work *work)
{
    GArray *numbers = work->numbers;
    guint kept = 0;

    for (guint i = 0; i < numbers->len; i++) {
        Number number = *number_at(work, (int)i);
        join_half(work, &number);
        while (i + 1 < numbers->len) {
            Number next = *number_at(work, (int)i + 1);
            join_half(work, &next);
            if (!join_repeat(work, &number, &next) && !join_fraction(work, &number, &next) &&
                !join_point(work, &number, &next) && !join_range(work, &number, &next) &&
                !join_scale(work, &number, &next))
                break;
            i++;
        }
        if (number.heard && number.kind == NUMBER_BARE) continue;
        *number_at(work, (int)kept++) = number;
    }
    g_array_set_size(numbers, kept);
}
