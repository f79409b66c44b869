/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers that others take the place of: corrected, told again, or added to. */
#include "core/talk/reading_inside.h"

static bool corrects(const Work *work, int from, int to)
{
    for (int t = from; t < to; t++)
        if (role_starts(work, ROLE_CORRECT, t) > 0) return true;
    return false;
}

/* "8 *7": a star right before a number puts a slip right, as people do in messages; with one behind it too it is only emphasis. */
static bool is_starred(const Work *work, const Number *a, const Number *b)
{
    const Token *token = token_at(work, b->first), *end = token_at(work, b->end - 1);

    return token->digits && token->from > 0 && work->text[token->from - 1] == '*' &&
           work->text[end->to] != '*' && work->text[token_at(work, a->end - 1)->to] != '*';
}

/* "nine? no. eight": a "no" on its own between two numbers takes the first back. */
static bool taken_back(Work *work, const Number *a, const Number *b)
{
    bool no = false;

    if (b->value == 0 || b->label != LABEL_NONE ||
        (token_level(work, b->first) < LEVEL_CLAUSE && b->first > a->end + 1))
        return false;
    for (int t = a->end; t < b->first; t++) {
        if (role_starts(work, ROLE_NO, t) != 1 || token_level(work, t) < LEVEL_CLAUSE) return false;
        no = true;
    }
    for (int t = a->end; t < b->first; t++)
        role_drop(work, ROLE_NO, t);
    return no;
}

/* "4 no 5 sorry": a denial between them, and behind the second a word of correction. */
static bool taken_back_behind(const Work *work, const Number *a, const Number *b)
{
    return b->first == a->end + 1 && role_ends(work, ROLE_NOT, b->first) == 1 &&
           token_level(work, b->end) == LEVEL_NONE && role_starts(work, ROLE_CORRECT, b->end) > 0;
}

/* "stretch 2 pain 3, other way about, stretch 3 pain 2": what has a label behind a correction takes the place of
 * what had it before. */
static void drop_before_correction(Work *work)
{
    enum { APART = 12 };
    int n = (int)work->numbers->len;
    int last[] = {[LABEL_NONE] = -1, [LABEL_STRETCH] = -1, [LABEL_PAIN] = -1};  /* of that label */
    int until[] = {[LABEL_NONE] = -1, [LABEL_STRETCH] = -1, [LABEL_PAIN] = -1}; /* corrected */

    for (int i = 0; i < n; i++)
        last[number_at(work, i)->label] = i;
    for (int i = 0; i + 1 < n; i++) {
        const Number *end = number_at(work, i), *begin = number_at(work, i + 1);
        if (begin->first - end->end > APART || !corrects(work, end->end, begin->first)) continue;
        for (int label = LABEL_STRETCH; label <= LABEL_PAIN; label++)
            if (i < last[label]) until[label] = i;
    }
    for (int i = 0; i < n; i++)
        if (i <= until[number_at(work, i)->label])
            number_at(work, i)->dropped = work->corrected = true;
}

/* "4 0": this number and the next are one report. */
static bool paired(const Work *work, int i)
{
    if (i < 0 || i + 1 >= (int)work->numbers->len) return false;
    const Number *a = number_at(work, i), *b = number_at(work, i + 1);
    return a->kind == NUMBER_BARE && b->kind == NUMBER_BARE && a->label == LABEL_NONE &&
           b->label == LABEL_NONE &&
           (a->end == b->first || a->end + role_starts(work, ROLE_AND, a->end) == b->first);
}

/* "6, 0. Sorry, 6 for stretch, 0 for pain": what stands without a word is told again with it; "5 4. Sorry, pain 2". */
static void drop_told_again(Work *work)
{
    int n = (int)work->numbers->len;

    for (int i = 0; i + 2 < n; i++) {
        if (!paired(work, i)) continue;
        for (int k = i + 2; k < n; k++) {
            const Number *again = number_at(work, k);
            if (again->dropped || again->label == LABEL_NONE) continue;
            Number *told = number_at(work, again->label == LABEL_STRETCH ? i : i + 1);
            told->dropped |= told->value == again->value ||
                             corrects(work, number_at(work, i + 1)->end, again->end);
        }
        return;
    }
}

/* "D 5. Oops, and 1 for the pain": what a sentence of correction adds, where the first number has no word of its own. */
static bool adds_pain(const Work *work, const Number *a, const Number *b, bool pair)
{
    if (b->label != LABEL_PAIN || a->label != LABEL_NONE || pair || a->value == b->value)
        return false;
    if (work->corrected && token_level(work, b->first - 1) >= LEVEL_CLAUSE)
        return true; /* "4 no 5 sorry, pain 0" */
    for (int t = a->end; t < b->first; t++)
        if (token_at(work, t)->level == LEVEL_SENTENCE) return true;
    return false;
}

/* "sore at a 4, now gone. Done 5": the second rates the session, the first was pain. */
static bool told_anew(const Work *work, const Number *a, const Number *b)
{
    return a->label == LABEL_PAIN && b->label == LABEL_NONE &&
           (role_ends(work, ROLE_DID, b->first) > 0 || role_ends(work, ROLE_YES, b->first) > 0);
}

/* "4 0. 4 0.": the same pair once more. */
static void drop_same_pair(Work *work)
{
    for (int i = 0; i + 3 < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i), *b = number_at(work, i + 1);
        if (!paired(work, i) || !paired(work, i + 2) || a->value != number_at(work, i + 2)->value ||
            b->value != number_at(work, i + 3)->value)
            continue;
        a->dropped = b->dropped = true;
        i++;
    }
}

/* A correction between two numbers takes away the first of them. */
static void drop_corrected(Work *work)
{
    enum { APART = 12 };

    for (int i = 0; i + 1 < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i), *b = number_at(work, i + 1);
        if (b->kind == NUMBER_COUNT && i + 2 < (int)work->numbers->len)
            b = number_at(work, i + 2); /* one that counts something else between them */
        if (!number_rateable(a) || !number_rateable(b) || b->first - a->end > APART) continue;
        if (!corrects(work, a->end, b->first) && !taken_back(work, a, b) &&
            !taken_back_behind(work, a, b) && !(is_starred(work, a, b) && !paired(work, i - 1)))
            continue;
        if (b->label == LABEL_STRETCH && paired(work, i - 1)) continue; /* "5 0. No, stretch 4" */
        if (adds_pain(work, a, b, paired(work, i - 1)) || told_anew(work, a, b)) continue;
        b->placed |= taken_back_behind(work, a, b);
        if (b->label == LABEL_NONE) b->label = a->label;
        if (b->label != a->label && a->label != LABEL_NONE) continue;
        a->dropped = true;
        work->corrected = true;
        if (paired(work, i - 1) && paired(work, i + 1)) number_at(work, i - 1)->dropped = true;
    }
    drop_before_correction(work);
}

/* "call it 5", "call it a 5": behind a word that sums up. */
static bool sums_up(const Work *work, const Number *number)
{
    int lead = role_ends(work, ROLE_NUMBER_BEFORE, number->first) > 0;

    return number_rateable(number) && number->label != LABEL_PAIN &&
           (number->kind == NUMBER_BARE || number->kind == NUMBER_RATING) &&
           (role_ends(work, ROLE_VERDICT, number->first) > 0 ||
            role_ends(work, ROLE_VERDICT, number->first - lead) > 0);
}

/* "It was a 4, then a 6, call it 5": all that was told of the stretch before; of a pair the pain stays. */
static void drop_before_verdict(Work *work)
{
    for (int i = 1, from = 0; i < (int)work->numbers->len; i++) {
        if (!sums_up(work, number_at(work, i))) continue;
        for (int k = from; k < i; k++) {
            Number *before = number_at(work, k);
            if (!number_rateable(before) || before->label == LABEL_PAIN) continue;
            if (k > 0 && paired(work, k - 1))
                before->label = LABEL_PAIN;
            else
                before->dropped = work->corrected = true;
        }
        from = i; /* those before it are settled */
    }
}

/* "Left 3, right 4, so 3.5": the mean of two sides, told once more. */
static void drop_mean(Work *work)
{
    for (int i = 2; i < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i - 2), *b = number_at(work, i - 1), *mean = number_at(work, i);
        if ((a->side | b->side) == (SIDE_LEFT | SIDE_RIGHT) && a->side != b->side &&
            mean->side == SIDE_NONE && mean->label == a->label && a->label == b->label &&
            number_rateable(a) && number_rateable(b) && mean->value * 2 == a->value + b->value)
            mean->dropped = true;
    }
}

void numbers_correct(Work *work)
{
    drop_before_verdict(work);
    drop_mean(work);
    drop_told_again(work);
    drop_same_pair(work);
    drop_corrected(work);
}
