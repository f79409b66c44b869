/* SPDX-License-Identifier: Apache-2.0 */
/* Words that look like a report of the session and belong to something else: a sign, a question, a wish, a pain. */
#include "core/talk/reading_inside.h"

static bool sign_at(const Work *work, int token)
{
    for (int sign = ROLE_CRISIS; sign <= ROLE_FALL; sign++)
        if (role_covers(work, (Role)sign, token)) return true;
    return false;
}

/* "did right leg only as the left calf is swollen", "left leg only, the right calf is like a rock": words of the session that
 * open the text and begin with what was done, or are a clause by themselves. */
static bool own_report(const Work *work, const Mark *mark)
{
    int end = mark->end;

    if (mark->start != 0 || role_starts(work, ROLE_NOT, end - 1) > 0) return false;
    if (role_starts(work, ROLE_BREAK, end - 1) > 0 && token_level(work, end) >= LEVEL_CLAUSE)
        return true;
    if (sign_at(work, 0)) return false;
    return role_starts(work, ROLE_DID, 0) > 0 || token_level(work, end) >= LEVEL_CLAUSE ||
           role_starts(work, ROLE_BREAK, end) > 0 || role_covers(work, ROLE_BREAK, end - 1);
}

/* Words of a sign are no report; of a "no" that opens its clause only its first word counts: "no I fell". */
static bool part_of_sign(const Work *work, Role role, const Mark *mark)
{
    bool opens = role == ROLE_NO && token_level(work, mark->start) >= LEVEL_CLAUSE;

    if (role == ROLE_PARTLY && own_report(work, mark)) return false;
    if (role == ROLE_YES && role_touches(work, ROLE_HELP_ASK, mark)) return true;
    if (role == ROLE_LATER &&
        (role_touches(work, ROLE_CONCERN, mark) || role_touches(work, ROLE_NEAR_SIGN, mark)))
        return true; /* "aches when I sit still" */

    for (int sign = ROLE_CRISIS; sign <= ROLE_FALL; sign++)
        if (opens || (role == ROLE_NO && mark->start == 0)
                ? role_covers(work, (Role)sign, mark->start)
                : role_touches(work, (Role)sign, mark))
            return true;
    return false;
}

/* "is it alright to do them in the bath": behind a "to", in the clause of a question. */
static bool asked_whether(const Work *work, const Mark *mark)
{
    if (role_ends(work, ROLE_RANGE, mark->start) == 0) return false;
    for (int i = mark->start; i > 0 && token_level(work, i) < LEVEL_CLAUSE; i--)
        if (role_covers(work, ROLE_ASK, i - 1)) return true;
    return false;
}

bool report_asked(const Work *work, const Mark *mark)
{
    if (token_level(work, mark->start) == LEVEL_NONE && role_ends(work, ROLE_ASK, mark->start) > 0)
        return true; /* "can I do them in the bath" */
    if (asked_whether(work, mark)) return true;
    if (!token_at(work, mark->start)->asked) return false;
    if (mark->start == 0 && answer_by_letter(work, 0) && number_over(work, 1) != NULL)
        return false; /* "D 4 0 call me?" */
    for (int i = mark->end; i < token_count(work); i++) {
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
        if (token_at(work, i)->level == LEVEL_CLAUSE) return false;
    }
    return true;
}

/* "half of dad's face": parts that are told in the clause of a sign or a concern, with no word of doing. */
static bool part_of_body(const Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_PARTLY ||
        (work->out->warning == WARNING_NONE && mark_first(work, ROLE_CONCERN) < 0) ||
        role_touches(work, ROLE_DID, mark) || own_report(work, mark))
        return false;
    bool own = false;
    for (int i = mark->start; i >= 0; i--) {
        if (sign_at(work, i) || role_covers(work, ROLE_CONCERN, i)) return true;
        own |= role_starts(work, ROLE_SELF, i) > 0 || role_starts(work, ROLE_DID, i) > 0;
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
        if (token_at(work, i)->level == LEVEL_CLAUSE && own) break; /* "..., so I only did one" */
    }
    for (int i = mark->end; i < token_count(work) && token_at(work, i)->level < LEVEL_CLAUSE; i++) {
        if (mark->start == 0 &&
            (role_starts(work, ROLE_BREAK, i) > 0 || role_starts(work, ROLE_SUBJECT, i) > 0))
            break; /* "only the left one as I came off the step" */
        if (sign_at(work, i) || role_covers(work, ROLE_CONCERN, i)) return true;
    }
    return false;
}

bool dose_of_else(const Work *work, const Number *number)
{
    int from = number->first, to = number->end;

    if (token_at(work, number->first)->asked) return true;
    while (from > 0 && token_at(work, from)->level < LEVEL_CLAUSE)
        from--;
    while (token_level(work, to) < LEVEL_CLAUSE)
        to++;
    for (int i = from; i < to; i++)
        if (sign_at(work, i)) return true;
    return false;
}

static bool turns(const Work *work, int token)
{
    return role_starts(work, ROLE_BUT, token) > 0 || role_starts(work, ROLE_BREAK, token) > 0;
}

/* "the other one yes", "I can't get up", "tingling toes after the walk": a "yes", "no" or "later" within the clause of a sign, with
 * no word of doing, and not at the start of the sentence. */
static bool within_sign(const Work *work, Role role, const Mark *mark)
{
    if ((role != ROLE_NO && role != ROLE_YES && role != ROLE_LATER) ||
        work->out->warning == WARNING_NONE || role_touches(work, ROLE_DID, mark) ||
        mark->start == 0 || token_level(work, mark->start) == LEVEL_SENTENCE)
        return false;
    if (role == ROLE_LATER) /* "after" turns by itself */
        return token_level(work, mark->start) < LEVEL_CLAUSE && sign_at(work, mark->start - 1);
    for (int i = mark->start; token_level(work, i) < LEVEL_CLAUSE && !turns(work, i) && i > 0; i--)
        if (sign_at(work, i - 1)) return true;
    for (int i = mark->end; token_level(work, i) < LEVEL_CLAUSE && !turns(work, i); i++)
        if (sign_at(work, i)) return true;
    return false;
}

/* "I have finished my course, so leave off texting": in the sentence of a wish nothing is told of today. */
static bool part_of_wish(const Work *work, const Mark *mark)
{
    int from = mark->start, to = mark->end;

    if (work->out->command == COMMAND_NONE || role_touches(work, ROLE_TODAY, mark)) return false;
    while (from > 0 && token_at(work, from)->level != LEVEL_SENTENCE)
        from--;
    while (to < token_count(work) && token_at(work, to)->level != LEVEL_SENTENCE)
        to++;
    for (int i = from; i < to; i++)
        if (role_covers(work, ROLE_STOP_ASK, i) || role_covers(work, ROLE_START_ASK, i))
            return true;
    return false;
}

/* A "no" of a correction, or "no" or "later" in sentences behind a report that begins with its number. */
static bool no_denial(const Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_NO && role != ROLE_LATER) return false;
    if (work->corrected && role_touches(work, ROLE_CORRECT, mark)) return true;
    if (work->out->intensity < 0 || work->numbers->len == 0 || number_at(work, 0)->first != 0)
        return false;
    for (int i = number_at(work, 0)->end; i <= mark->start; i++)
        if (token_at(work, i)->level == LEVEL_SENTENCE) return true;
    return false;
}

/* "No I didn't fall": a "no" to a sign or a pain, which is denied behind it in its clause. */
static bool denies_sign(const Work *work, Role role, const Mark *mark)
{
    enum { APART = 6 };
    bool denied = false;

    for (int i = mark->start + 1; role == ROLE_NO && i < MIN(token_count(work), mark->end + APART);
         i++) {
        if (token_at(work, i)->level >= LEVEL_CLAUSE || turns(work, i)) return false;
        denied |= i >= mark->end && role_starts(work, ROLE_NOT, i) > 0 && !sign_at(work, i);
        if (denied && (sign_at(work, i) || role_covers(work, ROLE_PAIN_LABEL, i))) return true;
    }
    return false;
}

/* "stopped at 4 out of 10": how strong, and not how far. */
static bool stops_at_rating(const Work *work, Role role, const Mark *mark)
{
    const Number *behind = role == ROLE_PARTLY ? number_over(work, mark->end) : NULL;

    if (behind != NULL && behind->kind == NUMBER_RATING && behind->first == mark->end) return true;
    for (int i = mark->start; role == ROLE_PARTLY && i < mark->end; i++) {
        const Number *within = number_over(work, i);
        if (within != NULL && within->kind == NUMBER_RATING && !within->dropped) return true;
    }
    return false; /* "did 8 out of 10, pain 1" */
}

/* A "no" that read_pain took for that of a pain has lost its role. */
static bool answers_pain(const Work *work, Role role, const Mark *mark)
{
    return role == ROLE_NO && !role_touches(work, role, mark) &&
           !role_touches(work, ROLE_IDIOM, mark);
}

/* "My left calf hurts. The other not": the sentence before a part tells of pain, and of no session. */
static bool behind_pain(const Work *work, const Mark *mark)
{
    bool pain = false;

    if (mark->start == 0 || token_level(work, mark->start) != LEVEL_SENTENCE ||
        role_touches(work, ROLE_DID, mark))
        return false;
    for (int i = mark->start - 1; i >= 0; i--) {
        pain |= role_covers(work, ROLE_PAIN, i);
        if (role_covers(work, ROLE_DID, i) || role_covers(work, ROLE_YES, i)) return false;
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
    }
    return pain;
}

/* "pain only on the left": where it hurts, and not what was done. */
static bool part_of_pain(const Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_PARTLY) return false;
    return behind_pain(work, mark) ||
           (mark->start > 0 && token_level(work, mark->start) == LEVEL_NONE &&
            (role_ends(work, ROLE_PAIN_LABEL, mark->start) > 0 ||
             role_ends(work, ROLE_PAIN, mark->start) > 0));
}

bool report_is_all(const Work *work, const Mark *mark)
{
    double values[2] = {0};
    int numbers = 0;

    for (int i = mark->start; i < mark->end; i++) {
        const Token *token = token_at(work, i);
        double value = token->digits      ? token->value
                       : token->word != 0 ? rules_entry(work->rules, token->word)->number
                                          : -1;
        if (value < 0) continue;
        if (numbers < 2) values[numbers] = value;
        numbers++;
    }
    return (numbers == 2 && values[0] == values[1] && values[0] > 1) ||
           (numbers == 1 && values[0] == 100);
}

/* "my heart does somersaults": a word of doing amid the words of a sign, in one clause with them, is what the body does. */
static bool amid_sign(const Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_DID || work->out->warning == WARNING_NONE) return false;
    for (int sign = ROLE_CRISIS; sign <= ROLE_FALL; sign++)
        for (int m = mark_first(work, (Role)sign); m >= 0; m = mark_at(work, m)->next) {
            const Mark *around = mark_at(work, m);
            if (around->start >= mark->start || around->end <= mark->end) continue;
            int at = around->start + 1;
            while (at < around->end && token_level(work, at) < LEVEL_CLAUSE &&
                   role_starts(work, ROLE_SELF, at) == 0 && role_starts(work, ROLE_BUT, at) == 0)
                at++;
            if (at == around->end) return true;
        }
    return false;
}

/* "N'ai pas oublie", "d'un coup": a letter that is no answer, but one word with what an apostrophe parts from it. */
static bool elided(const Work *work, const Mark *mark)
{
    const Token *first = token_at(work, mark->start);
    bool letter = first->folded_length == 1 &&
                  (mark->end - mark->start == 1 || number_over(work, mark->start + 1) != NULL);

    return letter && mark->start + 1 < token_count(work) &&
           token_at(work, mark->start + 1)->from == first->from;
}

/* "yes, I mean no": the other answer stands behind a word of correction. */
static bool answered_anew(const Work *work, Role role, const Mark *mark)
{
    Role other = role == ROLE_YES ? ROLE_NO : ROLE_YES;
    int length = role_starts(work, ROLE_CORRECT, mark->end);

    if (length == 0 || (role != ROLE_YES && role != ROLE_NO)) return false;
    for (int i = mark->end; i <= mark->end + length && i < token_count(work); i++)
        if (role_covers(work, other, i) && !role_covers(work, ROLE_GUESS, i)) return true;
    return false;
}

bool report_outranked(const Work *work, Role role, const Mark *mark)
{
    return elided(work, mark) || answered_anew(work, role, mark) || amid_sign(work, role, mark) ||
           part_of_sign(work, role, mark) || part_of_body(work, role, mark) ||
           part_of_pain(work, role, mark) || within_sign(work, role, mark) ||
           report_asked(work, mark) || part_of_wish(work, mark) || no_denial(work, role, mark) ||
           denies_sign(work, role, mark) || stops_at_rating(work, role, mark) ||
           (role == ROLE_PARTLY && report_is_all(work, mark)) || answers_pain(work, role, mark);
}
