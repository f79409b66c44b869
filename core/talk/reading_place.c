/* SPDX-License-Identifier: Apache-2.0 */
/* Whether the words around a number leave it a rating. */
#include "core/talk/reading_inside.h"

static bool is_picture(const Work *work, int token)
{
    if (token < 0 || token >= token_count(work) || token_at(work, token)->digits) return false;
    return !g_unichar_isalnum(g_utf8_get_char(work->text + token_at(work, token)->from));
}

bool number_behind_letter(const Work *work, const Number *number)
{
    return number->first == 1 && token_at(work, 1)->digits &&
           token_at(work, 0)->folded_length == 1 && role_starts(work, ROLE_YES, 0) > 0;
}

bool number_leads(const Work *work, const Number *number)
{
    const Number *first = work->numbers->len >= 2 ? number_at(work, 0) : NULL, *second;

    if (first == NULL || !token_at(work, first->first)->digits) return false;
    if (first->first != 0 && !(first->first == 1 && (role_starts(work, ROLE_YES, 0) > 0 ||
                                                     role_starts(work, ROLE_DID, 0) > 0)))
        return false;
    second = number_at(work, 1);
    if (number != first && number != second) return false;
    return second->first <= first->end + 1 && token_at(work, second->first)->digits &&
           first->kind == NUMBER_BARE && second->kind == NUMBER_BARE &&
           (second->first == first->end || role_starts(work, ROLE_AND, first->end) == 1 ||
            role_starts(work, ROLE_PAIN_LABEL, first->end) == 1) &&
           number_over(work, second->end) == NULL;
}

/* So is one behind the "D" alone: "D 5 chuffed to bits". */
static bool leads(const Work *work, const Number *number)
{
    return number_leads(work, number) ||
           (number_behind_letter(work, number) && number->kind == NUMBER_BARE);
}

/* "did them in the garden 4 0": so are two at the very end, behind words of a session, whatever stands
 * before them. */
static bool trails(const Work *work, const Number *number)
{
    int n = (int)work->numbers->len;
    const Number *last = n >= 2 ? number_at(work, n - 1) : NULL, *before;

    if (last == NULL || last->end != token_count(work)) return false;
    before = number_at(work, n - 2);
    if ((number != last && number != before) ||
        before->end + role_starts(work, ROLE_AND, before->end) != last->first)
        return false;
    if (!token_at(work, before->first)->digits || !token_at(work, last->first)->digits ||
        before->kind != NUMBER_BARE || last->kind != NUMBER_BARE)
        return false;
    if (token_at(work, before->first)->before == ':') return true; /* "No waffle: 5 and 0" */
    for (int i = before->first - 1; i >= 0; i--) {
        if (role_covers(work, ROLE_DID, i) || role_covers(work, ROLE_YES, i)) return true;
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
    }
    return false;
}

static bool behind_said(const Work *work, const Number *number)
{
    static const Role BEHIND[] = {
        ROLE_NUMBER_AFTER, ROLE_TAIL,    ROLE_YES,    ROLE_DID,       ROLE_STRETCH_LABEL,
        ROLE_PAIN_LABEL,   ROLE_CORRECT, ROLE_LEFT,   ROLE_RIGHT,     ROLE_AND,
        ROLE_BUT,          ROLE_THANKS,  ROLE_TODAY,  ROLE_PAIN_FREE, ROLE_PAIN_SOME,
        ROLE_PAIN,         ROLE_NOT,     ROLE_BREAK,  ROLE_SUBJECT,   ROLE_PAIN_GONE,
        ROLE_NUMBER_LABEL, ROLE_REPORTS, ROLE_PRONOUN};

    if (number->end >= token_count(work) || token_at(work, number->end)->level >= LEVEL_CLAUSE ||
        is_picture(work, number->end))
        return true;
    for (size_t r = 0; r < G_N_ELEMENTS(BEHIND); r++)
        if (role_starts(work, BEHIND[r], number->end) > 0) return true;
    int count = role_starts(work, ROLE_COUNT_BEFORE, number->end);
    if (count > 0 && number_over(work, number->end + count) != NULL)
        return true; /* "pull 4 mood 10": it counts what comes behind it */
    const Number *next = number_over(work, number->end);
    return next != NULL && next->first == number->end;
}

bool number_behind_known(const Work *work, const Number *number)
{
    return leads(work, number) || behind_said(work, number);
}

bool number_is_score(const Work *work, const Number *number, const Number *next)
{
    return number->kind == NUMBER_BARE && next->kind == NUMBER_BARE && next->first == number->end &&
           token_at(work, next->first)->joint == '-' && !behind_said(work, next);
}

/* An article right before a number, or with a word between them that nobody knows or that goes with a rating: "a comfy 5". */
static bool has_article(const Work *work, const Number *number)
{
    int at = number->first - 1;

    if (role_ends(work, ROLE_RATED_AS, number->first) > 0) return true;
    return at > 0 && token_level(work, at) == LEVEL_NONE &&
           token_level(work, number->first) == LEVEL_NONE && number_over(work, at) == NULL &&
           role_ends(work, ROLE_RATED_AS, at) > 0 &&
           role_ends(work, ROLE_COUNT_BEFORE, at + 1) == 0 && number->value <= 10;
}

/* "Blimey a 7 today", "I end the week on a 2": an article before it and the end of the clause behind it. */
static bool rated_as(const Work *work, const Number *number)
{
    int at = number->end, count = token_count(work);

    if (number->weak || !has_article(work, number)) return false;
    while (at < count && token_at(work, at)->level < LEVEL_CLAUSE) {
        int length = MAX(role_starts(work, ROLE_TODAY, at), role_starts(work, ROLE_TAIL, at));
        if (length == 0) return is_picture(work, at);
        at += length;
    }
    return true;
}

bool number_before_known(const Work *work, const Number *number)
{
    static const Role BEFORE[] = {ROLE_NUMBER_BEFORE, ROLE_LEAD,       ROLE_YES,     ROLE_DID,
                                  ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_CORRECT, ROLE_LEFT,
                                  ROLE_RIGHT,         ROLE_AND,        ROLE_BUT,     ROLE_THANKS,
                                  ROLE_TODAY,         ROLE_NO,         ROLE_PARTLY};

    if (number->first == 0 || token_at(work, number->first)->level >= LEVEL_CLAUSE ||
        token_at(work, number->first)->joint != 0 || is_picture(work, number->first - 1) ||
        trails(work, number) || rated_as(work, number))
        return true;
    for (size_t r = 0; r < G_N_ELEMENTS(BEFORE); r++)
        if (role_ends(work, BEFORE[r], number->first) > 0) return true;
    if (role_ends(work, ROLE_OTHER_DAY, number->first) > 0 &&
        role_starts(work, ROLE_TODAY, number->end) > 0)
        return true; /* "four yesterday five today" */
    return number_over(work, number->first - 1) != NULL;
}

static bool parts(const Work *work, int token)
{
    return token_at(work, token)->level >= LEVEL_CLAUSE || role_starts(work, ROLE_AND, token) > 0 ||
           role_starts(work, ROLE_BUT, token) > 0 || role_starts(work, ROLE_BREAK, token) > 0 ||
           role_starts(work, ROLE_PAIN_FREE, token) > 0 || role_starts(work, ROLE_NOT, token) > 0 ||
           role_starts(work, ROLE_SUBJECT, token) > 0 || is_picture(work, token) ||
           role_starts(work, ROLE_PAIN_GONE, token) > 0 ||
           role_starts(work, ROLE_PAIN_LABEL, token) > 0;
}

/* Where the words around a number end that it may count: at a part, or at another number. */
static bool fences(const Work *work, const Number *number, int token)
{
    const Number *over = number_over(work, token);

    return parts(work, token) || (over != NULL && over != number);
}

/* "the wall one too, all done 4 in spite of it": digits right behind a word of the session, and nothing behind them
 * that they may count. */
static bool follows_report(const Work *work, const Number *number)
{
    int at = number->first;

    if (number->weak || token_level(work, number->first) != LEVEL_NONE) return false;
    return (role_ends(work, ROLE_DID, at) > 0 || role_ends(work, ROLE_YES, at) > 0) &&
           behind_said(work, number);
}

/* Whether each word of the clause, "and" and "but" dividing it, is one that a rating may stand among:
 * "about a 4 today", but not "4 eggs" or "bus 4". A word that nobody knows may be what the number
 * counts; not so behind words that go with a rating alone: "6 getting easier by the day". */
bool number_among_words(const Work *work, const Number *number)
{
    static const Role KNOWN[] = {
        ROLE_FILL,          ROLE_LEAD,         ROLE_TAIL,      ROLE_YES,           ROLE_DID,
        ROLE_PARTLY,        ROLE_WHOLE,        ROLE_NO,        ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL,
        ROLE_PAIN,          ROLE_PAIN_FREE,    ROLE_PAIN_SOME, ROLE_PAIN_GONE,     ROLE_NOT,
        ROLE_NUMBER_BEFORE, ROLE_NUMBER_AFTER, ROLE_CORRECT,   ROLE_LEFT,          ROLE_RIGHT,
        ROLE_AND,           ROLE_OR,           ROLE_BUT,       ROLE_BREAK,         ROLE_TODAY,
        ROLE_THANKS,        ROLE_OTHER_DAY,    ROLE_SELF,      ROLE_IDIOM,         ROLE_HELP_ASK,
        ROLE_ASK,           ROLE_DOSE_UNIT,    ROLE_UNIT,      ROLE_COUNT_BEFORE,  ROLE_WORRY,
        ROLE_CLIENT};
    int from = number->first, to = number->end, count = token_count(work);

    while (from > 0 && !parts(work, from) && number_over(work, from - 1) == NULL)
        from--;
    int label = role_starts(work, ROLE_NUMBER_LABEL, number->end), close = count;
    if (label > 0 && token_level(work, number->end) == LEVEL_NONE) close = number->end + label;
    while (to < close && !fences(work, number, to))
        to++;
    for (int i = from; i < to; i++) {
        if (!token_at(work, i)->digits && number_over(work, i) == NULL && !is_picture(work, i) &&
            !role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), i))
            return false;
    }
    return true;
}

bool number_among_known(const Work *work, const Number *number)
{
    if (leads(work, number) || trails(work, number) || rated_as(work, number) ||
        follows_report(work, number))
        return true;
    return number_among_words(work, number);
}

/* Whether a number is a clause by itself: "six, one". */
bool number_stands_alone(const Work *work, const Number *number)
{
    return (number->first == 0 || token_at(work, number->first)->level >= LEVEL_CLAUSE) &&
           (number->end >= token_count(work) || token_at(work, number->end)->level >= LEVEL_CLAUSE);
}
