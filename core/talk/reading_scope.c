/* SPDX-License-Identifier: Apache-2.0 */
/* What holds for words that are marked: denied, supposed, another's, of another day, a figure of
 * speech.
 *
 * Everything works leftward from the mark to the start of its sentence, over at most REACH tokens,
 * and stops where the reach of the thing ends: a negation reaches to the next comma, "but" or new
 * subject, along a list only while "or" joins it; a supposition to the second subject behind it
 * ("if I hold it too long my foot goes numb" supposes no numb foot). */
#include "core/talk/reading_inside.h"

enum { REACH = READ_REACH, REACH_IF = 9, REACH_NEAR = 4 };

static bool names_not(const Work *work, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++)
        if (mark_names(mark, i) && role_starts(work, ROLE_NOT, i) > 0) return true;
    return false;
}

/* A negation that is none of the mark's own words; between these it denies only where they have none
 * themselves: "does not even know what day it is" holds. */
static bool live_not(const Work *work, const Mark *mark, int i)
{
    return role_starts(work, ROLE_NOT, i) > 0 && !mark_names(mark, i) &&
           !role_covers(work, ROLE_NOT_VOID, i) && !role_covers(work, ROLE_IDIOM, i) &&
           (i < mark->start || !names_not(work, mark));
}

/* "Numb? No. Well yes": a word or two before a "yes", and no report behind it, take the "no" back. */
static bool taken_back(const Work *work, int token)
{
    enum { LEADS = 2 };
    int count = token_count(work), at = token;

    while (at < count && at - token < LEADS && role_covers(work, ROLE_LEAD, at) &&
           !role_covers(work, ROLE_YES, at))
        at++;
    if (at == token || at >= count || !role_covers(work, ROLE_YES, at)) return false;
    do {
        if (role_covers(work, ROLE_DID, at) || number_over(work, at) != NULL) return false;
    } while (token_level(work, ++at) != LEVEL_SENTENCE);
    return true;
}

/* A negation behind the mark that closes its clause: "pain none". What is negated itself is not denied by another
 * word of it: "no agarra nada". */
static bool denied_after(const Work *work, const Mark *mark, Scope *scope)
{
    int at = mark->end, count = token_count(work);

    if (names_not(work, mark)) return false;
    if (at >= count || token_at(work, at)->level == LEVEL_SENTENCE ||
        (token_at(work, at)->level == LEVEL_CLAUSE &&
         strchr("-?:", token_at(work, at)->before) == NULL))
        return false;
    int length = role_starts(work, ROLE_NOT_AFTER, at);
    if (length == 0) return false;
    scope->denial = at;
    scope->denial_end = at + length;
    at += length;
    while (at < count && token_at(work, at)->level == LEVEL_NONE) {
        int tail = role_starts(work, ROLE_TAIL, at);
        if (tail == 0)
            return role_starts(work, ROLE_BUT, at) > 0 || role_starts(work, ROLE_BREAK, at) > 0 ||
                   role_starts(work, ROLE_AND, at) > 0;
        at += tail;
    }
    return !taken_back(work, at);
}

/* "no not that the stretch was five the pain was three": a number that has words of its own before the mark. */
static bool told_between(const Work *work, const Mark *mark, int token)
{
    const Number *number = number_over(work, token);

    return number != NULL && number->kind <= NUMBER_RATING && !number->weak &&
           number->end < mark->start && number->value > 0 &&
           role_ends(work, ROLE_NUMBER_BEFORE, number->first) > 0;
}

/* A word of a sign or a pain, or one so small that it joins such words. */
static bool lists(const Work *work, int token)
{
    static const Role LISTED[] = {ROLE_CRISIS, ROLE_HEART,    ROLE_STROKE,     ROLE_CAUDA,
                                  ROLE_CLOT,   ROLE_FRACTURE, ROLE_NERVE,      ROLE_FALL,
                                  ROLE_DOUBT,  ROLE_PAIN,     ROLE_PAIN_LABEL, ROLE_FILL};
    enum { LETTERS = 3 };

    return token_at(work, token)->folded_length <= LETTERS ||
           role_covers_any(work, LISTED, G_N_ELEMENTS(LISTED), token);
}

/* "no numbness, tingling or weakness": nothing but signs and pains from the negation, which is no word of one, up to an "or". */
static bool in_denied_list(const Work *work, const Mark *mark, int no)
{
    static const Role BOUNDS[] = {ROLE_BUT, ROLE_AND, ROLE_SUBJECT};
    int end = no + role_starts(work, ROLE_NOT, no);

    for (int role = ROLE_CRISIS; role <= ROLE_FALL; role++)
        if (role_covers(work, (Role)role, no)) return false;
    for (int i = end; i < token_count(work) && token_level(work, i) < LEVEL_SENTENCE; i++) {
        if (i >= mark->start && role_starts(work, ROLE_OR, i) > 0) return true;
        if (!lists(work, i) || number_over(work, i) != NULL) return false;
        for (size_t r = 0; r < G_N_ELEMENTS(BOUNDS); r++)
            if (role_starts(work, BOUNDS[r], i) > 0) return false;
    }
    return false;
}

static bool denied(const Work *work, const Mark *mark, Scope *scope)
{
    bool comma = false, list = false, subject = false;
    int from = mark->end - 1, first = MAX(0, mark->start - REACH);

    if (denied_after(work, mark, scope)) return true;
    if (!role_occurs(work, ROLE_NOT)) return false;
    for (int i = from; i >= first; i--) {
        bool inside = i >= mark->start;
        if (!inside) {
            if (role_starts(work, ROLE_BUT, i) > 0) return false;
            if (role_starts(work, ROLE_AND, i) > 0 && !list) return false;
        }
        if (!inside && told_between(work, mark, i)) return false;
        if (live_not(work, mark, i)) {
            scope->denial = i;
            scope->denial_end = i + role_starts(work, ROLE_NOT, i);
            if (!subject && (!comma || list || in_denied_list(work, mark, i))) return true;
            if (role_covers(work, ROLE_NOT_FAR, i) && !comma) return true;
        }
        if (!inside && role_starts(work, ROLE_OR, i) > 0) list = true;
        if (!inside && role_starts(work, ROLE_SUBJECT, i) > 0) subject = true;
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
        if (token_at(work, i)->level == LEVEL_CLAUSE && i <= mark->start) comma = true;
    }
    return false;
}

/* A word that begins a clause, and not one more of the same subject. */
static bool opens_clause(const Work *work, int token)
{
    return role_starts(work, ROLE_SUBJECT, token) > 0 &&
           role_starts(work, ROLE_SUBJECT, token + 1) == 0;
}

enum { CLAUSE = 20 }; /* more than any two words of one clause are apart */

/* How far the nearest mark of a role of time is: to the left in the sentence, to the right in the
 * clause. */
static int time_away(const Work *work, const Mark *mark, Role role)
{
    int best = G_MAXINT, clauses = 0, count = token_count(work);

    if (!role_occurs(work, role)) return best;
    for (int i = mark->end - 1; i >= MAX(0, mark->start - REACH * 2); i--) {
        bool years = clauses > 0 && role == ROLE_OTHER_DAY && role_covers(work, ROLE_LONG_AGO, i);
        bool own = role == ROLE_LONG_AGO && mark_names(mark, i); /* "down from what I used to be" */
        if (role_covers(work, role, i) && !years && !own) /* no session of today was years ago */
            best = MIN(best, MAX(0, mark->start - i) + clauses * CLAUSE);
        if (token_at(work, i)->level == LEVEL_SENTENCE && i <= mark->start) break;
        clauses += i <= mark->start &&
                   (token_at(work, i)->level == LEVEL_CLAUSE || role_starts(work, ROLE_BUT, i) > 0);
    }
    for (int i = mark->end, subjects = 0; i < MIN(count, mark->end + REACH); i++) {
        if (token_at(work, i)->level >= LEVEL_CLAUSE || role_starts(work, ROLE_BUT, i) > 0) break;
        subjects += opens_clause(work, i);
        if (subjects > 1 && role == ROLE_OTHER_DAY)
            break; /* "5 no I am well, you asked last week" */
        if (role_covers(work, role, i)) best = MIN(best, i - mark->end + 1);
    }
    return best;
}

/* "3 today, yesterday it was 7 so no pain": a number of the other day stands between, and the day before it is not meant. */
static bool day_told(const Work *work, const Mark *mark)
{
    const Number *number;

    for (int i = mark->start - 1; i >= 0 && token_level(work, i + 1) < LEVEL_CLAUSE; i--) {
        if (role_covers(work, ROLE_OTHER_DAY, i)) return false;
        if ((number = number_over(work, i)) != NULL && number->kind == NUMBER_BARE)
            return !mark_names(mark, mark->start) || number_over(work, mark->start) == NULL;
    }
    return false;
}

/* The nearest word of time decides between today and another day. */
static bool of_day(const Work *work, const Mark *mark, Role role)
{
    int away = time_away(work, mark, role);
    if (away == G_MAXINT) return false;
    int today = time_away(work, mark, ROLE_TODAY);

    /* "five today against four yesterday, no pain": of two in a clause before, today is meant */
    return away < today && !(away >= CLAUSE && today < G_MAXINT) &&
           !(role == ROLE_OTHER_DAY && today < G_MAXINT && day_told(work, mark));
}

static bool begins_clause(const Work *work, int token)
{
    return token_level(work, token) >= LEVEL_CLAUSE || role_starts(work, ROLE_BUT, token) > 0;
}

/* "Dizzy on the boat yesterday, did them, 4": an earlier clause that names the day tells something else of it, and no
 * session. "Yesterday, 4" and "did them yesterday, 4" do not. */
static bool day_of_else(const Work *work, const Mark *mark)
{
    static const Role REPORT[] = {ROLE_DID,           ROLE_YES,        ROLE_NO,        ROLE_PARTLY,
                                  ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_PAIN_GONE, ROLE_TODAY,
                                  ROLE_PAUSE,         ROLE_AWAY,       ROLE_STOP_ASK,  ROLE_ASK};
    static const Role BARE[] = {ROLE_OTHER_DAY, ROLE_FILL, ROLE_LEAD, ROLE_TAIL};
    bool more = false;
    int day = mark->start;

    while (day >= 0 && !role_covers(work, ROLE_OTHER_DAY, day))
        day--;
    int from = MAX(day, 0), to = day + 1;
    while (from > 0 && !begins_clause(work, from))
        from--;
    while (to < mark->start && !begins_clause(work, to))
        to++;
    for (int i = from; i < to; i++) {
        if (number_over(work, i) != NULL && number_over(work, i)->kind <= NUMBER_RATING)
            return false;
        if (role_covers_any(work, REPORT, G_N_ELEMENTS(REPORT), i)) return false;
        more |= !role_covers_any(work, BARE, G_N_ELEMENTS(BARE), i);
    }
    return more;
}

static bool supposed(const Work *work, const Mark *mark)
{
    int subjects = 0, first = MAX(0, mark->start - REACH_IF);

    if (!role_occurs(work, ROLE_IF)) return false;
    for (int i = mark->start; i >= first; i--) {
        if (role_covers(work, ROLE_IF, i) && !role_covers(work, ROLE_IF_VOID, i) &&
            !mark_names(mark, i) && i < mark->start) {
            for (; i >= first && role_covers(work, ROLE_IF, i); i--)
                subjects += opens_clause(work, i); /* "if I" */
            return subjects < 2;
        }
        if (i < mark->start && role_starts(work, ROLE_BUT, i) > 0) return false;
        if (opens_clause(work, i)) subjects++;
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
        if (token_at(work, i)->level == LEVEL_CLAUSE && i <= mark->start) return false;
    }
    return false;
}

/* "Went over the cat... almost!", "Missed the step. No fall.": what takes it back stands by itself, behind it in its sentence or
 * as the next one. */
static bool nearly_behind(const Work *work, const Mark *mark)
{
    bool over = false;

    for (int i = mark->end; i < token_count(work) && i - mark->end < REACH && !over; i++) {
        int level = token_level(work, i), length = role_starts(work, ROLE_NEAR, i);
        over = level == LEVEL_SENTENCE;
        if (level >= LEVEL_CLAUSE && length > 0 && token_level(work, i + length) >= LEVEL_CLAUSE)
            return true;
    }
    return false;
}

static bool nearly(const Work *work, const Mark *mark)
{
    int first = MAX(0, mark->start - REACH_NEAR);

    if (!role_occurs(work, ROLE_NEAR)) return false;
    if (nearly_behind(work, mark)) return true;
    for (int i = mark->end - 1; i >= first; i--) {
        if (role_covers(work, ROLE_NEAR, i) && !mark_names(mark, i)) return true;
        if (i < mark->start &&
            (role_starts(work, ROLE_BUT, i) > 0 || role_starts(work, ROLE_AND, i) > 0))
            return false;
        if (token_at(work, i)->level >= LEVEL_CLAUSE && i <= mark->start) return false;
    }
    return false;
}

/* A cause that is given, and not ruled out. */
static bool explained(const Work *work, const Mark *mark)
{
    int first, end;

    if (!role_occurs(work, ROLE_HARMLESS)) return false;
    mark_sentence(work, mark, &first, &end);
    for (int m = mark_first(work, ROLE_HARMLESS); m >= 0; m = mark_at(work, m)->next) {
        const Mark *cause = mark_at(work, m);
        bool there = (cause->start < end && cause->end > first) ||
                     cause->start == end; /* "Red calves. Sunburn" */
        Scope unused;
        if (there && role_touches(work, ROLE_HARMLESS, cause) && !denied(work, cause, &unused))
            return true;
    }
    return false;
}

/* "the film where a man clutches his chest": what was read, watched or dreamt, up to a word of the client's own. */
static bool in_story(const Work *work, const Mark *mark)
{
    if (mark_first(work, ROLE_STORY) < 0) return false;
    if (mark_names(mark, mark->start) && role_starts(work, ROLE_STORY, mark->start) > 0)
        return false; /* a sign that the dream itself is a word of: "dreamt I died, I wish" */
    for (int i = mark->start; i >= MAX(0, mark->start - REACH); i--) {
        if (role_covers(work, ROLE_STORY, i)) return true;
        if (i < mark->start &&
            (role_starts(work, ROLE_SELF, i) > 0 || role_starts(work, ROLE_BUT, i) > 0))
            return false;
        if (token_at(work, i)->level == LEVEL_SENTENCE) return false;
    }
    return false;
}

/* A figure of speech is none where the mark denies it: "could not draw a deep breath". */
static bool figurative(const Work *work, const Mark *mark)
{
    if (!role_touches(work, ROLE_IDIOM, mark)) return false;
    for (int i = mark->start; i < mark->end; i++)
        if (mark_names(mark, i) && role_starts(work, ROLE_NOT, i) > 0 &&
            !role_covers(work, ROLE_IDIOM, i))
            return false;
    return true;
}

/* "I nearly died laughing", and not "my arm went dead on me": a pack may have it that a figure of speech takes a sign only where
 * it holds all the words of it, but for the small ones; or one that is no part of the body there. */
static bool sign_figurative(const Work *work, const Mark *mark)
{
    static const Role SMALL[] = {ROLE_SELF, ROLE_AND,  ROLE_SUBJECT, ROLE_YES,
                                 ROLE_DID,  ROLE_NEAR, ROLE_CORRECT, ROLE_TODAY};
    enum { LETTERS = 3 };

    if (!figurative(work, mark)) return false;
    if (!work->rules->figures_whole) return true;
    for (int i = mark->start; i < mark->end; i++)
        if (mark_names(mark, i) && role_starts(work, ROLE_HOMONYM, i) > 0 &&
            role_covers(work, ROLE_IDIOM, i))
            return true; /* "back home since Monday" */
    for (int i = mark->start; i < mark->end; i++) {
        bool aside = !mark_names(mark, i) || role_covers(work, ROLE_IDIOM, i);
        aside |= role_covers(work, ROLE_FILL, i) && token_at(work, i)->folded_length <= LETTERS;
        if (!aside && !role_covers_any(work, SMALL, G_N_ELEMENTS(SMALL), i)) return false;
    }
    return true;
}

static Scope scope_with(const Work *work, const Mark *mark, bool idiom)
{
    Scope scope = {.idiom = idiom};

    if (idiom) return scope;
    scope.denied = denied(work, mark, &scope);
    scope.other = scope_others(work, mark, &scope);
    scope.long_ago = of_day(work, mark, ROLE_LONG_AGO);
    scope.other_day = of_day(work, mark, ROLE_OTHER_DAY) ||
                      (scope.long_ago && time_away(work, mark, ROLE_LONG_AGO) < CLAUSE);
    scope.day_apart = scope.other_day && time_away(work, mark, ROLE_OTHER_DAY) >= CLAUSE &&
                      day_of_else(work, mark);
    scope.hypothetical = supposed(work, mark);
    scope.near = nearly(work, mark);
    scope.harmless = explained(work, mark);
    scope.story = in_story(work, mark);
    return scope;
}

Scope scope_of(const Work *work, const Mark *mark)
{
    return scope_with(work, mark, figurative(work, mark));
}

Scope scope_of_sign(const Work *work, const Mark *mark)
{
    return scope_with(work, mark, sign_figurative(work, mark));
}

void scope_say(Work *work, const Mark *mark, const Scope *scope)
{
    mark_say(work, mark);
    for (int i = scope->denial; scope->denied && i < scope->denial_end; i++)
        work->said[i] = true;
}
