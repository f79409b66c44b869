/* SPDX-License-Identifier: Apache-2.0 */
/* What the words before, behind and between numbers make of them: a rating of pain, one told again, one of something else. */
#include "core/talk/reading_inside.h"

/* "I was a 4 last time and she was a 2": whether words of their own stand between two numbers, so that these are no pair. */
bool number_words_between(const Work *work, int from, int to)
{
    static const Role KNOWN[] = {
        ROLE_FILL,   ROLE_LEAD,  ROLE_TAIL,   ROLE_NUMBER_BEFORE, ROLE_NUMBER_AFTER,
        ROLE_AND,    ROLE_BUT,   ROLE_BREAK,  ROLE_CORRECT,       ROLE_YES,
        ROLE_DID,    ROLE_TODAY, ROLE_THANKS, ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL,
        ROLE_OUT_OF, ROLE_NO,    ROLE_NOT,    ROLE_NUMBER_LABEL,  ROLE_IDIOM,
        ROLE_LEFT,   ROLE_RIGHT, ROLE_PAIN,   ROLE_PAIN_FREE,     ROLE_SELF,
        ROLE_PARTLY, ROLE_WHOLE, ROLE_UNIT,   ROLE_DOSE_UNIT,     ROLE_COUNT_BEFORE};

    for (int i = from; i < to; i++) {
        bool known = token_at(work, i)->digits || number_over(work, i) != NULL ||
                     role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), i);
        if (!known && g_unichar_isalpha(g_utf8_get_char(work->text + token_at(work, i)->from)))
            return true;
    }
    return false;
}

/* "pain 5 in it", "pain in the hip of perhaps 3 during the hold", "Stretch was a 4 darl": no words of their own between it and
 * its word, and behind it where or when it is felt; or an article before it, and one last word that somebody is called by. */
bool number_told_by_word(const Work *work, const Number *number)
{
    Role label = number->label == LABEL_PAIN ? ROLE_PAIN_LABEL : ROLE_STRETCH_LABEL;
    int at = number->first;

    if (number->weak || number->value > 10) return false;
    if (role_ends(work, ROLE_RATED_AS, at) > 0 &&
        token_level(work, number->end + 1) >= LEVEL_CLAUSE)
        return true;
    if (role_starts(work, ROLE_NUMBER_PLACE, number->end) == 0) return false;
    while (at > 0 && token_level(work, at) == LEVEL_NONE && !role_covers(work, label, at - 1))
        at--;
    return at > 0 && role_covers(work, label, at - 1) &&
           !number_words_between(work, at, number->first);
}

/* "The 7 came up at bingo. Done, 4": the first stands in a sentence of other words, the second behind a word of the session in
 * the next. */
bool number_told_elsewhere(const Work *work, const Number *a, const Number *b)
{
    static const Role KNOWN[] = {ROLE_FILL, ROLE_LEAD, ROLE_TODAY, ROLE_SELF};
    int begin = b->first, from = a->first;
    bool report = false, other = false;

    while (begin > a->end && token_level(work, begin) != LEVEL_SENTENCE)
        begin--;
    if (begin <= a->end && token_level(work, begin) != LEVEL_SENTENCE) return false;
    for (int i = begin; i < b->first; i++)
        report |= role_covers(work, ROLE_DID, i) || role_covers(work, ROLE_YES, i);
    for (; from > 0 && token_level(work, from) != LEVEL_SENTENCE; from--) {
        if (role_covers(work, ROLE_DID, from - 1) || role_covers(work, ROLE_YES, from - 1))
            return false;
        other |= !role_covers(work, ROLE_STRETCH_LABEL, from - 1) &&
                 !role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), from - 1) &&
                 number_over(work, from - 1) == NULL;
    }
    return report && other;
}

/* Whether a session is denied, in a sentence that begins at a token or behind it. */
static bool denied_behind(const Work *work, int token)
{
    for (int i = mark_first(work, ROLE_NO); i >= 0; i = mark_at(work, i)->next)
        if (mark_at(work, i)->start >= token) return true;
    for (int i = mark_first(work, ROLE_DID); i >= 0; i = mark_at(work, i)->next)
        if (mark_at(work, i)->start >= token && scope_of(work, mark_at(work, i)).denied)
            return true;
    return false;
}

/* "my back hurts when I cough, a 7. did not do them": no session that the number could rate, and pain in its sentence. */
bool number_rates_pain(const Work *work, const Number *number)
{
    bool pained = false;

    if (token_level(work, number->end) != LEVEL_SENTENCE || role_occurs(work, ROLE_YES) ||
        !denied_behind(work, number->end))
        return false;
    for (int i = number->first; i > 0 && token_level(work, i) != LEVEL_SENTENCE; i--)
        pained |= role_covers(work, ROLE_PAIN, i - 1) && !role_covers(work, ROLE_PAIN_FREE, i - 1);
    return pained;
}

/* "hurts in the calf when I pull, say 3. Stretch 6": words that introduce a rating and no more part it from a clause of pain. */
bool number_rates_pain_before(const Work *work, const Number *number)
{
    int at = number->first;
    bool pained = false;

    if (token_level(work, number->end) != LEVEL_SENTENCE) return false;
    while (at > 0 && token_level(work, at) < LEVEL_CLAUSE) {
        int before = role_ends(work, ROLE_NUMBER_BEFORE, at);
        if (before == 0) return false;
        at -= before;
    }
    if (at == 0 || token_level(work, at) != LEVEL_CLAUSE) return false;
    for (; at > 0 && token_level(work, at) != LEVEL_SENTENCE; at--)
        pained |=
            role_covers(work, ROLE_PAIN, at - 1) && !role_covers(work, ROLE_PAIN_FREE, at - 1);
    return pained;
}

/* "did them twice, 4 then 5": one after the other, and no more pain than stretch; "5 then 1" is the pair. */
bool number_in_turn(const Work *work, const Number *a, const Number *b)
{
    int length = role_starts(work, ROLE_BREAK, a->end);

    return length > 0 && a->end + length == b->first && b->value > a->value;
}

/* "both legs, 4 and 4": two behind a word for both sides. */
static bool of_both_sides(const Work *work, const Number *a, const Number *b)
{
    return role_ends(work, ROLE_LEFT, a->first) > 0 && role_ends(work, ROLE_RIGHT, a->first) > 0 &&
           role_starts(work, ROLE_AND, a->end) == b->first - a->end;
}

/* "A 5, myself I'd say 5": the same number in a clause of its own, behind more than one word. */
bool number_said_again(const Work *work, const Number *a, const Number *b)
{
    enum { WORDS = 2 };
    bool clause = false;

    for (int i = a->end; i <= b->first; i++)
        clause |= token_level(work, i) >= LEVEL_CLAUSE;
    return (clause && b->first - a->end >= WORDS) || of_both_sides(work, a, b);
}

/* "D 3. L calf up 2 sizes": right behind the letter that opens the text, with nothing more in its sentence. */
bool number_answers_letter(const Work *work, const Number *number)
{
    return number_behind_letter(work, number) && token_level(work, number->end) == LEVEL_SENTENCE;
}
