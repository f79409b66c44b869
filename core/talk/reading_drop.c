/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers that rate nothing of the client's today: another's, another day's, denied, or part of some other phrase. */
#include "core/talk/reading_inside.h"

/* The first and the last of its tokens: between them may stand "6 today, nearly 7". */
static Mark mark_over(const Number *number)
{
    int last = number->end - number->first - 1;
    guint64 mask = last >= 64 ? 1 : 1 | G_GUINT64_CONSTANT(1) << last;

    return (Mark){.start = (guint16)number->first, .end = (guint16)number->end, .mask = mask};
}

/* "3 not 5", "it was not a 2": nothing but words that introduce a number stand between. */
static bool negated(const Work *work, const Number *number)
{
    int at = number->first;

    if (number->kind == NUMBER_COUNT || number->kind == NUMBER_UNSURE ||
        token_at(work, number->first)->before == ':') /* "8 no: 5" */
        return false;
    while (at > 0 && token_at(work, at)->level == LEVEL_NONE) {
        if (role_ends(work, ROLE_CORRECT, at) > 0) return false;
        if (token_level(work, number->end) == LEVEL_NONE && at == number->first &&
            role_starts(work, ROLE_CORRECT, number->end) > 0 && number_over(work, at - 2) != NULL)
            return false; /* "4 no 5 sorry" */
        if (role_ends(work, ROLE_NOT, at) > 0 && !role_covers(work, ROLE_NOT_VOID, at - 1) &&
            !role_covers(work, ROLE_PAIN_FREE, at - 1) &&
            (number->weak || !role_covers(work, ROLE_NO, at - 1)))
            return true;
        int before = role_ends(work, ROLE_NUMBER_BEFORE, at);
        if (before == 0) return false;
        at -= before;
    }
    return false;
}

bool own_again(const Work *work, int token)
{
    bool today = false;

    if (token_level(work, token) == LEVEL_SENTENCE) return false;
    for (int i = token - 1; i >= 0; i--) {
        today |= role_covers(work, ROLE_TODAY, i);
        if (role_covers(work, ROLE_OTHER, i)) return false;
        if (role_starts(work, ROLE_BUT, i) > 0) return today;
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
    }
    return false;
}

/* "He put 9 for me, it should be 4": what corrects, in a clause without anybody else. */
static bool corrected_to(const Work *work, const Number *number)
{
    bool corrects = false;

    for (int i = number->first - 1; i >= 0; i--) {
        corrects |= role_covers(work, ROLE_CORRECT, i);
        if (role_covers(work, ROLE_OTHER, i)) return false;
        if (token_at(work, i)->level >= LEVEL_CLAUSE) return corrects;
    }
    return false;
}

/* "four yesterday five today", "his was 9, mine 5": a word for today or for the client that touches the number. */
static bool beside(const Work *work, const Number *number, Role role)
{
    bool open = number->end < token_count(work) && token_at(work, number->end)->level == LEVEL_NONE;

    return (token_at(work, number->first)->level == LEVEL_NONE &&
            role_ends(work, role, number->first) > 0) ||
           (open && role_starts(work, role, number->end) > 0);
}

/* "4 better than yesterday": the other day is only what it is compared to. */
static bool compared(const Work *work, const Number *number)
{
    int length = token_level(work, number->end) == LEVEL_NONE
                     ? role_starts(work, ROLE_NUMBER_AFTER, number->end)
                     : 0;

    for (int i = number->end; i < number->end + length; i++)
        if (role_covers(work, ROLE_OTHER_DAY, i)) return true;
    return false;
}

/* The nearest word of time between a number and the one before it, in its sentence: ROLE_TODAY, ROLE_OTHER_DAY, or
 * ROLE_COUNT for none. */
static Role day_before(const Work *work, int index)
{
    int end = index > 0 ? number_at(work, index - 1)->end : 0;

    for (int i = number_at(work, index)->first - 1; i >= end; i--) {
        if (role_covers(work, ROLE_TODAY, i)) return ROLE_TODAY;
        if (role_covers(work, ROLE_OTHER_DAY, i)) return ROLE_OTHER_DAY;
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
    }
    return ROLE_COUNT;
}

/* "yesterday was a 7 today only 3": each has its day before it. */
static bool days_in_turn(const Work *work, int index)
{
    if (index + 1 >= (int)work->numbers->len || day_before(work, index) != ROLE_OTHER_DAY)
        return false;
    for (int i = number_at(work, index)->end; i <= number_at(work, index + 1)->first; i++)
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
    return day_before(work, index + 1) == ROLE_TODAY;
}

/* "did 7 of 10": how much of the session was done. */
static bool tells_part(const Work *work, const Number *number)
{
    bool covered = role_covers(work, ROLE_PARTLY, number->first);

    if (number->end > number->first + 1 &&
        token_at(work, number->first)->from == token_at(work, number->first + 1)->from)
        return false; /* "IV", that the pack reads as two words */
    if (number->kind == NUMBER_RATING && token_level(work, number->end) < LEVEL_SENTENCE &&
        (role_starts(work, ROLE_PAIN_LABEL, number->end) > 0 ||
         role_starts(work, ROLE_PAIN_FREE, number->end) > 0))
        return false; /* "did 8 out of 10, pain 1": the answer to both questions */
    if (number->kind == NUMBER_BARE) return covered || role_covers(work, ROLE_DID, number->first);
    return number->kind == NUMBER_RATING && covered && number->label == LABEL_NONE;
}

/* "Mine was 3": the sender opens the clause, and nothing but words that introduce a number follow. */
static bool mine(const Work *work, const Number *number)
{
    int at = number->first, before;

    while (at > 0 && token_level(work, at) < LEVEL_CLAUSE) {
        before = MAX(role_ends(work, ROLE_NUMBER_BEFORE, at), role_ends(work, ROLE_SELF, at));
        if (before == 0) return false;
        at -= before;
    }
    return at < number->first && role_covers(work, ROLE_SELF, at) &&
           !role_covers(work, ROLE_IDIOM, at);
}

/* "Jean did a 9, me 5": the sender, and not as the one who does something, right before a number, which another number of the
 * sentence among other words comes before. */
static bool before_me(const Work *work, int index)
{
    const Number *number = number_at(work, index), *next;

    if (index + 1 >= (int)work->numbers->len || number->kind != NUMBER_BARE ||
        number_among_words(work, number))
        return false;
    next = number_at(work, index + 1);
    for (int i = number->end; i <= next->first; i++)
        if (token_level(work, i) == LEVEL_SENTENCE) return false;
    return next->kind == NUMBER_BARE && role_ends(work, ROLE_SELF, next->first) == 1 &&
           role_starts(work, ROLE_SUBJECT, next->first - 1) == 0;
}

/* A number behind it that the sender tells apart from it: "hubby says 8 but I'm the boss so 5". */
static bool told_apart(const Work *work, int index)
{
    bool apart = false;

    if (index + 1 >= (int)work->numbers->len) return false;
    const Number *next = number_at(work, index + 1);
    for (int i = number_at(work, index)->end; i < next->first; i++)
        apart |= role_covers(work, ROLE_SELF, i) || role_starts(work, ROLE_BUT, i) > 0;
    return apart && (next->kind == NUMBER_BARE || next->kind == NUMBER_RATING);
}

/* "Wife says 6": what one of the family reports is the client's, where the client tells none. */
static bool reported_for(Work *work, int index)
{
    Number *number = number_at(work, index);
    int at = number->first, says, before = 1;

    while ((says = role_ends(work, ROLE_REPORTS, at)) == 0 && before > 0)
        at -= before =
            token_level(work, at) == LEVEL_NONE
                ? MAX(role_ends(work, ROLE_NUMBER_BEFORE, at), role_ends(work, ROLE_SUBJECT, at))
                : 0; /* "says it was a 6" */
    if (says == 0 || at - says < 1 || token_level(work, at - says) != LEVEL_NONE) return false;
    number->placed = role_covers(work, ROLE_KIN, at - says - 1) && !told_apart(work, index);
    return number->placed;
}

/* "wife did hers, she says 6. Mine was 3": another's, for the sender's own comes behind it. */
static bool before_mine(const Work *work, int index)
{
    if (mark_first(work, ROLE_CLIENT) < 0 || mine(work, number_at(work, index))) return false;
    for (int i = index + 1; i < (int)work->numbers->len; i++)
        if (number_at(work, i)->kind != NUMBER_COUNT && mine(work, number_at(work, i))) return true;
    return false;
}

/* "His stretch was a 9, mine a 4": the clause says nothing of the sender, who opens that of the next number. */
static bool before_own(const Work *work, int index)
{
    const Number *number = number_at(work, index), *next;
    int at, before;

    if (index + 1 >= (int)work->numbers->len || !role_occurs(work, ROLE_SELF)) return false;
    next = number_at(work, index + 1);
    if (number->kind != NUMBER_BARE || next->kind != NUMBER_BARE) return false;
    for (at = next->first; !role_covers(work, ROLE_SELF, at); at -= before) {
        before = role_ends(work, ROLE_NUMBER_BEFORE, at);
        if (before == 0 || at - before < number->end || token_level(work, at) >= LEVEL_CLAUSE)
            return false;
    }
    if (role_starts(work, ROLE_SUBJECT, at) > 0 || role_covers(work, ROLE_STRETCH_LABEL, at + 1) ||
        role_covers(work, ROLE_PAIN_LABEL, at + 1))
        return false;
    if (token_level(work, at) < LEVEL_CLAUSE && role_ends(work, ROLE_AND, at) == 0 &&
        role_ends(work, ROLE_BUT, at) == 0)
        return false;
    for (int i = number->first; i >= 0; i--) {
        if (role_covers(work, ROLE_SELF, i) || role_covers(work, ROLE_DID, i) ||
            role_covers(work, ROLE_YES, i))
            return false;
        if (token_at(work, i)->level >= LEVEL_CLAUSE) break;
    }
    return number->first > 0 && token_level(work, number->first) == LEVEL_NONE;
}

bool answer_by_letter(const Work *work, int token)
{
    const Token *letter;

    if (token < 0 || (token > 0 && token_level(work, token) < LEVEL_CLAUSE)) return false;
    letter = token_at(work, token);
    return letter->folded_length == 1 && !letter->digits && role_covers(work, ROLE_YES, token);
}

bool number_is_share(const Work *work, const Number *number)
{
    const Token *token = token_at(work, number->first);
    bool part = (number->value > 0 && number->value < 1) ||
                (number->kind == NUMBER_UNSURE && number->end == number->first + 2 &&
                 token_at(work, number->first + 1)->joint == '/' &&
                 token->value < token_at(work, number->first + 1)->value);

    return part && token_level(work, number->end) == LEVEL_NONE &&
           role_starts(work, ROLE_OUT_OF, number->end) > 0;
}

/* "the cat has a limp, done, 3": a clause that a word of the session opens stands between; "my mate did his, 4" has none. */
static bool behind_report(const Work *work, int token)
{
    for (int i = token; i > 0 && token_level(work, i) < LEVEL_SENTENCE; i--) {
        if (role_covers(work, ROLE_OTHER, i)) return false;
        if ((token_level(work, i) >= LEVEL_CLAUSE || role_ends(work, ROLE_BUT, i) > 0) &&
            (role_starts(work, ROLE_DID, i) > 0 || role_starts(work, ROLE_YES, i) > 0))
            return true;
    }
    return false;
}

/* "the choir lost its voice, 4 0": two numbers that are a clause by themselves, and nobody's session was told before them. */
static bool lone_pair(const Work *work, int index)
{
    static const Role TOLD[] = {ROLE_DID, ROLE_YES, ROLE_NO, ROLE_PARTLY};
    const Number *number = number_at(work, index), *next, *first = number;

    if (index > 0 && number_at(work, index - 1)->end == number->first)
        first = number_at(work, index - 1);
    next = first == number && index + 1 < (int)work->numbers->len ? number_at(work, index + 1)
                                                                  : number;
    if (first == next || next->first != first->end || first->kind != NUMBER_BARE ||
        next->kind != NUMBER_BARE || token_level(work, first->first) < LEVEL_CLAUSE ||
        token_level(work, next->end) < LEVEL_CLAUSE)
        return false;
    for (int i = first->first - 1; i >= 0; i--) {
        if (role_covers_any(work, TOLD, G_N_ELEMENTS(TOLD), i)) return false;
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
    }
    return true;
}

/* "6 4 the 4 is my back which was fine last night": a report that opens the text is of today, unless the other day stands
 * close behind it. */
static bool opens_today(const Work *work, const Number *number)
{
    enum { CLOSE = 3 };

    if (!number_leads(work, number)) return false;
    int end = number_at(work, 1)->end;
    for (int i = end; i < end + CLOSE; i++)
        if (role_starts(work, ROLE_OTHER_DAY, i) > 0 || role_starts(work, ROLE_OTHER, i) > 0)
            return false;
    return true;
}

/* "the neighbour fell, 2 0 for me": words that go with a rating stand behind it, and name the sender. */
static bool told_of_self(const Work *work, int index)
{
    int end = number_at(work, index)->end;

    if (index + 1 < (int)work->numbers->len && number_at(work, index + 1)->first == end)
        end = number_at(work, index + 1)->end;
    if (token_level(work, end) != LEVEL_NONE) return false;
    for (int i = end; i < end + role_starts(work, ROLE_NUMBER_AFTER, end); i++)
        if (role_covers(work, ROLE_SELF, i)) return true;
    return false;
}

void numbers_drop(Work *work)
{
    static const Role TAKEN[] = {ROLE_LONG_AGO, ROLE_OTHER_DAY, ROLE_AWAY,  ROLE_TODAY,
                                 ROLE_WHOLE,    ROLE_SUSPEND,   ROLE_PAUSE, ROLE_GUESS};

    for (int i = 0; i < (int)work->numbers->len; i++) {
        Number *number = number_at(work, i);
        Mark mark = mark_over(number);
        Scope scope = scope_of(work, &mark);
        bool reported = behind_report(work, number->first) || lone_pair(work, i);
        bool own = (scope.apart && !scope.kin && reported) || own_again(work, number->first) ||
                   corrected_to(work, number) || reported_for(work, i) || told_of_self(work, i) ||
                   answer_by_letter(work, number->first - 1) ||
                   role_ends(work, ROLE_SELF, number->first) > 0;
        number->dropped = scope.idiom || (scope.other && !own) ||
                          (scope.other_day && !(scope.day_apart && reported) &&
                           !beside(work, number, ROLE_TODAY) && !compared(work, number)) ||
                          scope.hypothetical;
        number->dropped &= scope.idiom || !opens_today(work, number);
        if (number->value == 0 && role_covers(work, ROLE_PAIN_FREE, number->first))
            number->dropped = true; /* "pain zero" is said in words */
        if (number->value == 0 && role_covers(work, ROLE_NO, number->first) &&
            role_starts(work, ROLE_STRETCH_LABEL, number->end) > 0)
            number->dropped = true; /* "zero stretching" was not done */
        /* "it hurt 5 at first and now nothing" */
        number->dropped |= role_covers(work, ROLE_PAIN_GONE, number->first);
        number->dropped |= negated(work, number) || number_left(work, number);
        bool now = beside(work, number, ROLE_TODAY) && !days_in_turn(work, i);
        number->dropped |= days_in_turn(work, i) || before_mine(work, i) || before_me(work, i) ||
                           before_own(work, i);
        for (size_t r = 0; r < G_N_ELEMENTS(TAKEN); r++)
            number->dropped |=
                !(now && TAKEN[r] == ROLE_OTHER_DAY) && role_touches(work, TAKEN[r], &mark);
        for (int sign = ROLE_CRISIS; sign <= ROLE_FALL; sign++)
            number->dropped |= role_covers(work, (Role)sign, number->first); /* "two sizes up" */
        number->dropped |= tells_part(work, number) || number_is_share(work, number);
        work->other_day |= scope.other_day && number->dropped;
        if (number->dropped)
            for (int t = number->first; t < number->end; t++)
                work->said[t] = work->said[t] || scope.other_day;
    }
}
