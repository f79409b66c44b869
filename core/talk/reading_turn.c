/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers of which each has its own person, session or part of the day: they are no stretch and pain, whatever their order. */
#include "core/talk/reading_inside.h"

enum { REACH_WHOSE = 4 };

static bool covered(const Work *work, Role role, int from, int to)
{
    for (int i = from; i < to; i++)
        if (role_covers(work, role, i)) return true;
    return false;
}

static bool whole_sentence(const Work *work, const Number *number, Role role)
{
    Mark mark = {.start = (guint16)number->first, .end = (guint16)number->end};
    int first, end;

    mark_sentence(work, &mark, &first, &end);
    return covered(work, role, first, end);
}

/* A word of another session behind a number, in its clause. */
static bool apart_behind(const Work *work, const Number *number)
{
    int to = number->end;

    while (token_level(work, to) < LEVEL_CLAUSE)
        to++;
    return covered(work, ROLE_TURN, number->end, to);
}

bool number_told_by_turns(const Work *work, const Number *a, const Number *b)
{
    int from = a->first;

    if (!role_occurs(work, ROLE_TURN) && !role_occurs(work, ROLE_TURNS)) return false;
    while (from > 0 && token_level(work, from) < LEVEL_CLAUSE &&
           number_over(work, from - 1) == NULL)
        from--;
    if (covered(work, ROLE_TURN, a->end, b->first) &&
        (b->value > a->value || covered(work, ROLE_TURN, from, a->first) || apart_behind(work, b)))
        return true;
    return b->value > 0 &&
           (whole_sentence(work, a, ROLE_TURNS) || whole_sentence(work, b, ROLE_TURNS));
}

static bool in_one_sentence(const Work *work, const Number *a, const Number *b)
{
    for (int i = a->end; i <= b->first; i++)
        if (token_level(work, i) == LEVEL_SENTENCE) return false;
    return true;
}

/* "Pain was 5 this morning, 2 now": the second has the word of the first, and "now" takes its place. */
static void share_label(Work *work)
{
    for (int i = 0; i + 1 < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i), *b = number_at(work, i + 1);
        if (!number_rateable(a) || !number_rateable(b) || a->label == LABEL_NONE ||
            b->label != LABEL_NONE || b->value > 10 ||
            !covered(work, ROLE_TURN, a->end, b->first) || !number_told_by_turns(work, a, b) ||
            !in_one_sentence(work, a, b))
            continue;
        b->label = a->label;
        b->placed = true;
        if (token_level(work, b->end) == LEVEL_NONE && role_starts(work, ROLE_CORRECT, b->end) > 0)
            a->dropped = work->corrected = true;
    }
}

/* "5 before lunch and 7 after": what goes with a bare number is read as a time or a day. */
bool number_beside_turn(const Work *work, const Number *number)
{
    for (int i = 0; i < (int)work->numbers->len && role_occurs(work, ROLE_TURN); i++) {
        const Number *other = number_at(work, i);
        const Number *a = other->first < number->first ? other : number;
        const Number *b = a == other ? number : other;
        if (other == number || other->dropped || other->weak || other->value > 10 ||
            other->value == number->value || other->label != LABEL_NONE ||
            !covered(work, ROLE_TURN, a->end, b->first))
            continue;
        if (number_told_by_turns(work, a, b) &&
            (covered(work, ROLE_TURN, MAX(a->first - 2, 0), a->first) || apart_behind(work, b)))
            return true;
    }
    return false;
}

/* "3 in the morning and 5 in the evening": read as times, and as likely ratings. */
bool turns_of_counts(const Work *work)
{
    const Number *last = NULL;

    if (!role_occurs(work, ROLE_TURN)) return false;
    for (int i = 0; i < (int)work->numbers->len; i++) {
        const Number *number = number_at(work, i);
        bool beside =
            (number->first > 0 && role_covers(work, ROLE_TURN, number->first - 1)) ||
            (number->end < token_count(work) && role_covers(work, ROLE_TURN, number->end));
        if (number->value > 10 || !beside) continue;
        if (last != NULL && last->value != number->value) return true;
        last = number;
    }
    return false;
}

typedef enum { WHOSE_UNSAID, WHOSE_MINE, WHOSE_THEIRS } Whose;

/* Who a word names; in French "l'étirement, lui, 5" names the stretch once more. */
static Whose whose_at(const Work *work, int token)
{
    bool thing = token > 0 && (role_covers(work, ROLE_STRETCH_LABEL, token - 1) ||
                               role_covers(work, ROLE_PAIN_LABEL, token - 1));

    if (role_covers(work, ROLE_OTHER, token) || (!thing && role_covers(work, ROLE_PRONOUN, token)))
        return WHOSE_THEIRS;
    return role_covers(work, ROLE_SELF, token) ? WHOSE_MINE : WHOSE_UNSAID;
}

/* "Jean did hers, 6": a number that is a clause by itself, and somebody else alone in the clauses before it. */
static bool theirs_before(const Work *work, const Number *number)
{
    bool theirs = false;

    if (number->first == 0 || token_level(work, number->first) != LEVEL_CLAUSE ||
        token_level(work, number->end) < LEVEL_CLAUSE)
        return false;
    for (int i = number->first; i > 0; i--) {
        if (i < number->first && token_level(work, i) == LEVEL_SENTENCE) break;
        Whose who = whose_at(work, i - 1);
        if (who == WHOSE_MINE || number_over(work, i - 1) != NULL) return false;
        theirs |= who == WHOSE_THEIRS;
    }
    return theirs;
}

/* Who is named in the clause of a number: "I did 4", "his was a 7", "5 for him"; nobody where "she gave me 4". */
static Whose whose(const Work *work, const Number *number)
{
    bool named[WHOSE_THEIRS + 1] = {false};

    for (int i = number->first; i > 0 && number->first - i < REACH_WHOSE; i--) {
        if (token_level(work, i) >= LEVEL_CLAUSE || number_over(work, i - 1) != NULL) break;
        named[whose_at(work, i - 1)] = true;
    }
    for (int i = number->end; i < number->end + REACH_WHOSE / 2 && !named[WHOSE_MINE]; i++) {
        if (named[WHOSE_THEIRS] || token_level(work, i) >= LEVEL_CLAUSE) break;
        if (token_level(work, i + 1) >= LEVEL_CLAUSE) named[whose_at(work, i)] = true;
    }
    if (named[WHOSE_MINE] && named[WHOSE_THEIRS]) return WHOSE_UNSAID;
    if (named[WHOSE_MINE]) return WHOSE_MINE;
    return named[WHOSE_THEIRS] || theirs_before(work, number) ? WHOSE_THEIRS : WHOSE_UNSAID;
}

/* "he did 6, I did 4", "his pain is 7, mine is 0": of two numbers that each have their person, the client's is meant, and has the
 * word of the other. */
static void drop_theirs(Work *work)
{
    for (int i = 0; i + 1 < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i), *b = number_at(work, i + 1);
        Whose of_a = whose(work, a), of_b = whose(work, b);
        if (a->kind == NUMBER_COUNT || b->kind == NUMBER_COUNT || of_a == WHOSE_UNSAID ||
            of_b == WHOSE_UNSAID || of_a == of_b || a->value > 10 || b->value > 10)
            continue;
        Number *mine = of_a == WHOSE_MINE ? a : b, *theirs = of_a == WHOSE_MINE ? b : a;
        if (mine->dropped && (role_occurs(work, ROLE_OTHER_DAY) || role_occurs(work, ROLE_IF)))
            continue;
        if (mine->label == LABEL_NONE) mine->label = theirs->label;
        mine->dropped = false;
        mine->placed = true;
        theirs->dropped = true;
    }
}

/* "he did 6, I did 4": one who writes of the client in no other words than that. */
static bool told_of_pronoun(const Work *work)
{
    int first = mark_first(work, ROLE_CLIENT);

    return first >= 0 && role_covers(work, ROLE_PRONOUN, mark_at(work, first)->start);
}

void numbers_tell_apart(Work *work)
{
    if (work->numbers->len < 2) return;
    if ((!work->told || told_of_pronoun(work)) &&
        (role_occurs(work, ROLE_PRONOUN) || role_occurs(work, ROLE_OTHER)) &&
        role_occurs(work, ROLE_SELF))
        drop_theirs(work);
    if (role_occurs(work, ROLE_TURN)) share_label(work);
}
