/* SPDX-License-Identifier: Apache-2.0 */
/* What kind a number is, once the grammar has run: a rating, a count of something, on no scale, or unsure. */
#include "core/talk/reading_inside.h"

enum { BIG = 100000 };

static void index_numbers(Work *work)
{
    for (int i = 0; i < token_count(work); i++)
        work->number_of[i] = -1;
    for (int i = 0; i < (int)work->numbers->len; i++)
        for (int t = number_at(work, i)->first; t < number_at(work, i)->end; t++)
            work->number_of[t] = i;
}

/* "did 5 and 0.": no repetitions, for nobody does none of them: the stretch and the pain. */
static bool pairs_with_nought(const Work *work, int i)
{
    const Number *number = number_at(work, i);
    const Number *next = i + 1 < (int)work->numbers->len ? number_at(work, i + 1) : NULL;
    int joined = role_starts(work, ROLE_AND, number->end);

    return next != NULL && joined > 0 && next->first == number->end + joined && next->value == 0 &&
           number->value <= 10 && next->kind == NUMBER_BARE && number->kind == NUMBER_BARE &&
           role_covers(work, ROLE_DID, number->first - 1) &&
           token_level(work, next->first) == LEVEL_NONE &&
           token_level(work, next->end) >= LEVEL_CLAUSE;
}

/* What stands around a number and makes it a count. */
static void type_by_words(Work *work, int i)
{
    Number *number = number_at(work, i);
    bool near = token_level(work, number->end) == LEVEL_NONE;
    int unit = near ? role_starts(work, ROLE_UNIT, number->end) : 0;
    int dose = near ? role_starts(work, ROLE_DOSE_UNIT, number->end) : 0;
    bool glued = near && number->end < token_count(work) && !token_at(work, number->end)->spaced &&
                 token_at(work, number->end - 1)->digits;

    if (glued && unit == 0) unit = role_starts(work, ROLE_GLUED_UNIT, number->end);
    if (!glued && number_behind_letter(work, number) && !token_at(work, number->first)->spaced)
        unit = dose = 0; /* "D4 legs like lead" */
    if (near && unit > 0 &&
        (role_starts(work, ROLE_PAIN_FREE, number->end) > unit ||
         role_starts(work, ROLE_CORRECT, number->end) > unit || /* "2 pas 4", "2 pas mal" */
         role_starts(work, ROLE_NUMBER_AFTER, number->end) > unit))
        unit = 0;
    number->dose = role_covers(work, ROLE_DOSE_UNIT, number->first) && (unit == 0 || dose > 0);
    if (unit > 0 || dose > 0) {
        number->kind = NUMBER_COUNT;
        number->dose |= dose > 0 && dose >= unit && !number->weak;
        for (int t = number->end; t < number->end + MAX(unit, dose); t++)
            work->said[t] = true;
        return;
    }
    bool told = token_at(work, number->first)->before == ':' &&
                role_ends(work, ROLE_DID, number->first) > 0; /* "did them: 4" */
    told |= i > 0 && number_at(work, i - 1)->end == number->first - 1 &&
            ((token_level(work, number->first - 1) >= LEVEL_CLAUSE &&
              role_starts(work, ROLE_NO, number->first - 1) > 0) || /* "5... no 6" */
             (number_at(work, i - 1)->kind == NUMBER_BARE &&
              token_level(work, number->first - 1) < LEVEL_CLAUSE &&
              role_starts(work, ROLE_NOT, number->first - 1) > 0 &&
              role_covers(work, ROLE_CORRECT, number->first - 1))); /* "4 no 5 sorry" */
    if (!told && token_at(work, number->first)->level == LEVEL_NONE &&
        number->kind != NUMBER_RATING) {
        int before = role_ends(work, ROLE_COUNT_BEFORE, number->first);
        bool named = near && number->whole && role_starts(work, ROLE_NUMBER_LABEL, number->end) > 0;
        if (before > 0 && !named && !pairs_with_nought(work, i) && /* "did 4 for the stretch" */
            before >= role_ends(work, ROLE_NUMBER_BEFORE, number->first)) {
            number->kind = NUMBER_COUNT;
            for (int t = number->first - before; t < number->first; t++)
                work->said[t] = true;
        }
    }
}

/* "6/7 ish": the middle, where a word that goes with a rating says that it is one. */
static void type_by_ish(const Work *work, Number *number)
{
    const Token *token = token_at(work, number->first);

    if (number->kind != NUMBER_UNSURE || number->end != number->first + 2 ||
        token_at(work, number->first + 1)->joint != '/' ||
        token_at(work, number->first + 1)->value != token->value + 1 ||
        token_level(work, number->end) != LEVEL_NONE ||
        role_starts(work, ROLE_NUMBER_AFTER, number->end) == 0)
        return;
    number->value = token->value + 0.5;
    number->kind = NUMBER_BARE;
    number->whole = false;
}

/* "19h30", "won 3-0": digits that touch a unit that touches digits that count, or that a hyphen joins to these. */
static void type_by_glue(Work *work, int i)
{
    Number *number = number_at(work, i);

    if (i == 0 || number->kind != NUMBER_BARE || token_level(work, number->first) != LEVEL_NONE)
        return;
    const Number *before = number_at(work, i - 1);
    if (before->kind == NUMBER_COUNT && before->end == number->first &&
        token_at(work, number->first)->joint == '-')
        number->kind = NUMBER_COUNT;
    int range = role_starts(work, ROLE_RANGE, before->end);
    if (before->kind == NUMBER_COUNT && range > 0 && before->end + range == number->first &&
        before->value > number->value && !number_left(work, before))
        number->kind = NUMBER_COUNT; /* "won 2 to 1" */
    if (before->kind == NUMBER_COUNT && before->end + 1 == number->first &&
        !token_at(work, number->first)->spaced && !token_at(work, before->end)->spaced &&
        token_at(work, number->first)->digits)
        number->kind = NUMBER_COUNT;
}

/* "2 sets of 8 left and 6 right": a side that follows counted repetitions has counted ones, too. */
static void type_by_side(Work *work, int i)
{
    enum { APART = 6 };
    Number *number = number_at(work, i);

    if (i == 0 || number->kind != NUMBER_BARE) return;
    Number *before = number_at(work, i - 1);
    if (i > 1 && number_at(work, i - 2)->dose &&
        number_at(work, i - 2)->value == before->value + number->value) {
        before->kind = number->kind = NUMBER_COUNT; /* "20 of them, 10 and 10" */
        return;
    }
    bool sided = false;
    if (before->kind != NUMBER_COUNT || !before->dose || number->first - before->end > APART)
        return;
    for (int t = MAX(before->end, number->first - 2); t < MIN(token_count(work), number->end + 2);
         t++) {
        if (role_starts(work, ROLE_PAIN_LABEL, t) > 0 || role_starts(work, ROLE_YES, t) > 0) return;
        sided |= role_covers(work, ROLE_LEFT, t) || role_covers(work, ROLE_RIGHT, t);
    }
    if (sided) {
        number->kind = NUMBER_COUNT;
        number->dose = true;
    }
}

/* "stop texting at 7, make it 9": what takes the place of a time in a wish is a time. */
static void type_by_wish(Work *work, int i)
{
    enum { APART = 7 };
    Number *number = number_at(work, i);
    bool corrects = false, wish = false;

    if (i == 0 || number->kind != NUMBER_BARE) return;
    const Number *before = number_at(work, i - 1);
    if (before->kind != NUMBER_COUNT || before->dose || number->first - before->end > APART) return;
    for (int t = before->end; t < number->first; t++)
        corrects |= role_starts(work, ROLE_CORRECT, t) > 0;
    for (int t = number->first - 1; corrects && t >= 0; t--) {
        if (role_covers(work, ROLE_DID, t) || role_covers(work, ROLE_YES, t)) return;
        wish |= role_covers(work, ROLE_PAUSE, t) || role_covers(work, ROLE_STOP_ASK, t) ||
                role_covers(work, ROLE_ASK, t);
        if (token_at(work, t)->level == LEVEL_SENTENCE) break;
    }
    if (wish) number->kind = NUMBER_COUNT;
}

/* "7 reps of 10", "3 repetitions done of the 5": what the repetitions are of counts them, too. */
static void type_by_total(Work *work, int i)
{
    Number *number = number_at(work, i);
    const Number *before = i > 0 ? number_at(work, i - 1) : NULL;
    int at;

    if (before == NULL || number->kind != NUMBER_BARE || before->kind != NUMBER_COUNT ||
        !before->dose || token_level(work, number->first) != LEVEL_NONE)
        return;
    at = before->end + MAX(role_starts(work, ROLE_DOSE_UNIT, before->end), 1);
    while (at < number->first && role_covers(work, ROLE_DID, at) &&
           token_level(work, at) == LEVEL_NONE)
        at++;
    int of = token_level(work, at) == LEVEL_NONE ? role_starts(work, ROLE_OUT_OF, at) : 0;
    at += of;
    if (of == 0 ||
        (at != number->first && (at + 1 != number->first || !role_covers(work, ROLE_FILL, at))))
        return;
    number->kind = NUMBER_COUNT;
    number->dose = true;
}

/* "d9ne": between two letters, with no space on either side. */
static bool within_word(const Work *work, const Number *number)
{
    const Token *token = token_at(work, number->first);

    return token->digits && number->first > 0 && !token->spaced && token->level == LEVEL_NONE &&
           token_at(work, number->first - 1)->to == token->from &&
           !token_at(work, number->first - 1)->digits && number->end < token_count(work) &&
           token_at(work, number->end)->from == token_at(work, number->end - 1)->to &&
           token_at(work, number->end)->word == 0 && token_at(work, number->end)->folded_length > 1;
}

/* "around T12": more than any rating, right behind a letter. */
static bool names_thing(const Work *work, const Number *number)
{
    const Token *token = token_at(work, number->first);

    if (within_word(work, number)) return true;

    return number->value > 10 && token->digits && number->first > 0 && !token->spaced &&
           token->joint == 0 && token->level == LEVEL_NONE &&
           token_at(work, number->first - 1)->folded_length == 1 &&
           !token_at(work, number->first - 1)->digits &&
           role_starts(work, ROLE_YES, number->first - 1) == 0;
}

/* "the wall one": no number at all. */
static bool stands_for(const Work *work, const Number *number)
{
    return number->weak && token_level(work, number->first) == LEVEL_NONE &&
           role_ends(work, ROLE_STANDS_FOR, number->first) > 0;
}

/* The number that a token is, in digits and with that mark behind it, which is a list's. */
static bool is_item(const Work *work, const Number *number, double value, char mark)
{
    int next = number->first + 1;

    return number->value == value && number->end == next && next < token_count(work) &&
           token_at(work, number->first)->digits && token_at(work, next)->before == mark;
}

/* "1) yes 2) 6 3) 2": from one on, the first of the text, each with the same mark behind it and something before the next. They
 * are no numbers of the report. */
static void drop_items(Work *work)
{
    enum { LEAST = 2, MOST = 9 };
    int found[MOST], n = 0;
    char mark = token_count(work) > 1 ? token_at(work, 1)->before : '\0';

    if (mark == '\0' || strchr(").", mark) == NULL) return;
    for (int i = 0; i < (int)work->numbers->len && n < MOST; i++) {
        const Number *number = number_at(work, i);
        bool place =
            n == 0 ? number->first == 0 : number->first > number_at(work, found[n - 1])->end;
        if (place && is_item(work, number, n + 1, mark)) found[n++] = i;
    }
    for (int i = n - 1; n >= LEAST && i >= 0; i--) {
        Token *token = token_at(work, number_at(work, found[i])->first);
        token->level = MAX(token->level, LEVEL_CLAUSE);
        work->said[number_at(work, found[i])->first] = true;
        g_array_remove_index(work->numbers, (guint)found[i]);
    }
}

static void type_scores(Work *work)
{
    for (int i = 0; i < (int)work->numbers->len; i++) {
        Number *number = number_at(work, i);
        if (number->kind == NUMBER_UNSURE && number->end - number->first == 2 &&
            token_at(work, number->first + 1)->joint == '-' && !number_behind_known(work, number))
            number->kind = NUMBER_COUNT; /* "7-2 lost my team" */
    }
    for (int i = 0; i + 1 < (int)work->numbers->len; i++)
        if (number_is_score(work, number_at(work, i), number_at(work, i + 1)))
            number_at(work, i)->kind = number_at(work, i + 1)->kind = NUMBER_COUNT;
}

/* "5/1 my friend was late": at the start of the text, before a clause of its own. */
static bool opens_text(const Work *work, const Number *number)
{
    return (number->first == 0 || number_behind_letter(work, number)) &&
           (role_starts(work, ROLE_SUBJECT, number->end) > 0 ||
            role_starts(work, ROLE_SELF, number->end) > 0);
}

/* "session complete 5/1": at the end of its clause, right behind a word of the session. */
static bool closes_report(const Work *work, const Number *number)
{
    return token_level(work, number->end) >= LEVEL_CLAUSE &&
           token_level(work, number->first) == LEVEL_NONE &&
           (role_ends(work, ROLE_DID, number->first) > 0 ||
            role_ends(work, ROLE_YES, number->first) > 0);
}

/* The stretch and the pain, with a stroke between. */
static void split_pairs(Work *work)
{
    for (guint i = 0; i < work->numbers->len; i++) {
        Number *number = number_at(work, (int)i), second = *number;
        if (number->kind != NUMBER_UNSURE || number->end != number->first + 2 ||
            token_at(work, number->first + 1)->joint != '/' ||
            (!closes_report(work, number) && !opens_text(work, number)))
            continue;
        second.first = number->first + 1;
        second.value = token_at(work, second.first)->value;
        if (second.value >= number->value || number->value > 10) continue;
        number->end = second.first;
        number->kind = second.kind = NUMBER_BARE;
        g_array_insert_val(work->numbers, i + 1, second);
    }
}

/* "ate for the stretch and to for the pain": right before what it rates, where a number may stand. */
static double heard_labelled(const Work *work, int i)
{
    const Token *token = token_at(work, i);
    int label = role_starts(work, ROLE_NUMBER_LABEL, i + 1), end = i + 1 + label;

    if (label == 0 || token->digits || token->word == 0 || token_level(work, i + 1) != LEVEL_NONE)
        return -1;
    if (!role_covers(work, ROLE_PAIN_LABEL, end - 1) &&
        !role_covers(work, ROLE_STRETCH_LABEL, end - 1))
        return -1;
    bool opens = token_level(work, i) >= LEVEL_CLAUSE || i == 0 ||
                 role_ends(work, ROLE_AND, i) > 0 || role_ends(work, ROLE_NUMBER_BEFORE, i) > 0;
    bool closes = token_level(work, end) >= LEVEL_CLAUSE || role_starts(work, ROLE_AND, end) > 0;
    return opens && closes ? rules_entry(work->rules, token->word)->heard : -1;
}

/* "stretch was about a for and the pain was zero": behind its word and an article, at the end of the clause or before the next
 * word. */
static double heard_behind(const Work *work, int i)
{
    enum { APART = 2 };
    const Token *token = token_at(work, i);
    bool labelled = false, closes = token_level(work, i + 1) >= LEVEL_CLAUSE;

    if (token->digits || token->word == 0 || role_ends(work, ROLE_RATED_AS, i) == 0) return -1;
    int joined = role_starts(work, ROLE_AND, i + 1), next = i + 1 + joined;
    for (int k = next; joined > 0 && k < MIN(token_count(work), next + APART); k++)
        closes |= role_covers(work, ROLE_PAIN_LABEL, k) || role_covers(work, ROLE_STRETCH_LABEL, k);
    for (int k = i; closes && k > 0 && token_level(work, k) < LEVEL_CLAUSE; k--)
        labelled |= role_covers(work, ROLE_STRETCH_LABEL, k - 1) ||
                    role_covers(work, ROLE_PAIN_LABEL, k - 1);
    return labelled ? rules_entry(work->rules, token->word)->heard : -1;
}

static void hear_numbers(Work *work)
{
    if (!role_occurs(work, ROLE_NUMBER_LABEL) && !role_occurs(work, ROLE_RATED_AS)) return;
    for (int i = 0, at = 0; i < token_count(work); i++) {
        while (at < (int)work->numbers->len && number_at(work, at)->end <= i)
            at++;
        if (at < (int)work->numbers->len && number_at(work, at)->first <= i) continue;
        Number number = {.first = i, .end = i + 1, .whole = true, .kind = NUMBER_BARE};
        number.value = heard_labelled(work, i);
        if (number.value < 0) number.value = heard_behind(work, i);
        if (number.value >= 0) g_array_insert_val(work->numbers, (guint)at, number);
    }
}

/* "Did 1 and 3 but not 2": numbers of pieces in a row behind a word of the session, and one that was left out. */
static bool piece_left_out(const Work *work, int index)
{
    int not_at = number_at(work, index)->first - 1, k = index - 1;

    if (index < 2 || not_at < 1 || role_ends(work, ROLE_NOT, not_at + 1) != 1 ||
        (role_ends(work, ROLE_BUT, not_at) == 0 && role_ends(work, ROLE_AND, not_at) == 0))
        return false;
    for (; k > 0; k--) {
        const Number *number = number_at(work, k), *before = number_at(work, k - 1);
        int next = before->end + role_starts(work, ROLE_AND, before->end);
        if (number->kind != NUMBER_BARE || number->first != next ||
            token_level(work, number->first) == LEVEL_SENTENCE)
            break;
    }
    int first = number_at(work, k)->first;
    return k < index - 1 && first > 0 && number_at(work, k)->kind == NUMBER_BARE &&
           (role_covers(work, ROLE_DID, first - 1) || role_covers(work, ROLE_PARTLY, first - 1));
}

static void type_pieces(Work *work)
{
    for (int i = 2; i < (int)work->numbers->len; i++) {
        if (!piece_left_out(work, i)) continue;
        for (int k = 0; k <= i; k++)
            if (number_at(work, k)->kind == NUMBER_BARE) number_at(work, k)->kind = NUMBER_COUNT;
        work->pieces = true;
    }
}

void numbers_type(Work *work)
{
    split_pairs(work);
    numbers_join(work);
    drop_items(work);
    hear_numbers(work);
    type_pieces(work);
    index_numbers(work);
    type_scores(work);
    for (int i = 0; i < (int)work->numbers->len; i++) {
        Number *number = number_at(work, i);
        if (number->value >= BIG || stands_for(work, number) || names_thing(work, number))
            number->kind = NUMBER_COUNT;
        type_by_ish(work, number);
        type_by_words(work, i);
        type_by_glue(work, i);
        type_by_side(work, i);
        type_by_total(work, i);
        type_by_wish(work, i);
        if (number->kind == NUMBER_COUNT || number->kind == NUMBER_RATING)
            for (int t = number->first; t < number->end; t++)
                work->said[t] = true;
        if (number->kind == NUMBER_BARE && number->value > 10) number->kind = NUMBER_OFF;
    }
}
