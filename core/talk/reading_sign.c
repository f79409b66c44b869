/* SPDX-License-Identifier: Apache-2.0 */
/* Warning signs, what else a person must see, and commands. */
#include "core/talk/reading_inside.h"

#include <string.h>

/* A report of the client's own in words: the text is not only about somebody else. Strictly, one in which the client stands:
 * "not done" may be said of another, too. */
static bool own_report(const Work *work, bool strictly)
{
    static const Role OWN[] = {ROLE_DID, ROLE_YES, ROLE_NO, ROLE_LATER};

    for (size_t i = 0; i < G_N_ELEMENTS(OWN); i++)
        for (int m = mark_first(work, OWN[i]); m >= 0; m = mark_at(work, m)->next)
            if ((!strictly || role_touches(work, ROLE_SELF, mark_at(work, m))) &&
                !scope_of(work, mark_at(work, m)).other)
                return true;
    return false;
}

/* The same, or ratings alone. */
static bool own_words(const Work *work, bool strictly)
{
    if (own_report(work, strictly)) return true;
    for (int i = 0; i < (int)work->numbers->len; i++)
        if (!number_at(work, i)->weak && number_at(work, i)->kind != NUMBER_COUNT) return true;
    return false;
}

/* A sign of somebody else. An emergency of one of the family in a text about nothing else is told for the client; what is
 * for today, or stands beside ratings of nobody knows whose session, a person looks at. */
static bool is_foreign(Work *work, ReadWarning kind, const Scope *scope)
{
    if (!scope->other) return false;
    if (kind > WARNING_NERVE || !scope->kin) return true;
    bool own = own_words(work, kind <= WARNING_STROKE);
    work->out->person |= !own || (kind <= WARNING_STROKE && !own_report(work, false));
    return own || kind > WARNING_CAUDA;
}

/* More of the sender's words than those kept: "tight feeling across my chest", not its beginning alone. */
static bool tells_more(const Work *work, const Mark *mark)
{
    int length = token_at(work, mark->end - 1)->to - token_at(work, mark->start)->from;

    return work->out->from_warning != NULL && length > (int)strlen(work->out->from_warning);
}

/* "Short of breath? Me? No.": a short question that the sender answers at once with no more than a "no", behind the token.
 * The token behind the answer, or 0. */
static int denied_at_once(const Work *work, int token)
{
    static const Role AROUND[] = {ROLE_SELF, ROLE_NOT, ROLE_NOT_AFTER, ROLE_TAIL, ROLE_FILL};
    enum { SHORT = 8, ANSWER = 4, TAKEN_BACK = 2 /* "No. Well, yes" */ };
    int from = token, end = token + 1, no = 0, at;

    if (!token_at(work, token)->asked) return 0;
    while (from > 0 && token_at(work, from)->level != LEVEL_SENTENCE)
        from--;
    while (token_level(work, end) != LEVEL_SENTENCE)
        end++;
    for (int i = from; i < end; i++)
        if (role_covers(work, ROLE_ASK, i)) return 0;
    if (end - from > SHORT) return 0;
    for (at = end; at < token_count(work) && (at == end || token_level(work, at) < LEVEL_SENTENCE);
         at++) {
        bool known = role_covers(work, ROLE_NO, at);
        no += known;
        known |= role_covers_any(work, AROUND, G_N_ELEMENTS(AROUND), at);
        if (!known || at - end >= ANSWER) return 0;
    }
    for (int k = at; k < MIN(at + TAKEN_BACK, token_count(work)); k++)
        if (role_covers(work, ROLE_YES, k) || role_covers(work, ROLE_BUT, k)) return 0;
    return no > 0 ? at : 0;
}

/* "How are you all?", "isn't it cold?": a sentence that a figure of speech opens, polite words before it or not. */
static bool asks_nothing(const Work *work, int token)
{
    enum { WORDS = 3 };

    while (token > 0 && token_level(work, token) != LEVEL_SENTENCE)
        token--;
    while (role_starts(work, ROLE_IDIOM, token) < WORDS &&
           role_starts(work, ROLE_LEAD, token) > 0 &&
           token_level(work, token + 1) != LEVEL_SENTENCE)
        token++;
    return role_starts(work, ROLE_IDIOM, token) >= WORDS;
}

/* Whether anything is asked that the sender does not answer. */
static bool asks(Work *work)
{
    bool open = false, any = false;

    for (int i = 0; i < token_count(work); i++) {
        if (!token_at(work, i)->asked) continue;
        any = true;
        int behind = denied_at_once(work, i), end = i + 1;
        while (token_level(work, end) != LEVEL_SENTENCE)
            end++;
        open |= behind == 0 && !asks_nothing(work, i);
        for (int k = end; k < behind; k++)
            role_drop(work, ROLE_NO, k);
        i = MAX(end, behind) - 1;
    }
    return open || !any;
}

/* "stiff in the back this morning, 4, pain 1": a word of the mark begins a clause, and says what the number behind it rates. */
static bool rates_pain(const Work *work, const Mark *mark, int token)
{
    int length = mark_names(mark, token) && (token_level(work, token) >= LEVEL_CLAUSE ||
                                             role_ends(work, ROLE_AND, token) > 0)
                     ? role_starts(work, ROLE_PAIN_LABEL, token)
                     : 0;
    const Number *number = length > 0 ? number_over(work, token + length) : NULL;

    return number != NULL && number->first == token + length && number->kind <= NUMBER_RATING;
}

/* "turned to stone at the news, 5 the calves": words of the mark in a clause that a number begins, which is none of its
 * words, belong to that number. */
static bool parted_by_number(const Work *work, const Mark *mark)
{
    for (int i = mark->start + 1; i < mark->end; i++) {
        if (rates_pain(work, mark, i)) return true;
        const Number *number = number_over(work, i);
        if (number == NULL || number->first != i || token_level(work, i) < LEVEL_CLAUSE ||
            number->kind > NUMBER_RATING || mark_names(mark, i))
            continue;
        for (int k = number->end; k < mark->end && token_level(work, k) < LEVEL_CLAUSE; k++)
            if (mark_names(mark, k)) return true;
    }
    return false;
}

/* Where two share a phone, one of the family is a client as well: the gravest is kept. */
static void note_kin(Work *work, ReadWarning kind, const Mark *mark)
{
    if (work->out->kin_warning != WARNING_NONE && work->out->kin_warning <= kind) return;
    work->out->kin_warning = kind;
    work_from(work, &work->out->from_kin_warning, mark->start, mark->end);
}

/* A sign that is told, but not as the client's own and present one, still goes to a person where it
 * nearly was. A denied wish to die does, too. The words of a sign that is denied stay among those that
 * a person sees. */
static void weigh_sign(Work *work, ReadWarning kind, const Mark *mark)
{
    enum { CLOSE = 3 };
    Scope scope = scope_of_sign(work, mark);
    bool crisis = kind == WARNING_CRISIS;

    if (scope.idiom || scope.story || role_touches(work, ROLE_NEAR_SIGN, mark) ||
        parted_by_number(work, mark))
        return;
    if (denied_at_once(work, mark->start) > 0) return;
    if (!crisis && sign_only_hurts_not(work, kind, mark)) return;
    if (scope.denied && (!crisis || mark->start - scope.denial <= CLOSE)) {
        work->out->person |= crisis || sign_begins_anew(work, mark);
        for (int i = MAX(mark->end, scope.denial); i < scope.denial_end; i++)
            role_drop(work, ROLE_NO, i); /* "any numbness? No" */
        return;
    }
    if (scope.long_ago) { /* "one leg bigger since the lymphoedema years ago" */
        work->out->person |= scope.harmless;
        return;
    }
    if (is_foreign(work, kind, &scope)) {
        if (scope.kin && !scope.hypothetical && !scope.near) note_kin(work, kind, mark);
        return;
    }
    if (scope.hypothetical && !crisis) return;
    bool graver = kind == WARNING_NERVE && role_touches(work, ROLE_PLAIN, mark); /* "still numb" */
    if ((scope.near && kind == WARNING_FALL) ||
        (scope.harmless && !graver &&
         (kind == WARNING_CLOT || kind == WARNING_NERVE || kind == WARNING_STROKE))) {
        work->out->person = true;
        return;
    }
    mark_say(work, mark);
    work->out->own_sign |= bars_own_sign(work, mark, &scope);
    bool first = work->out->warning == WARNING_NONE || kind < work->out->warning;
    if (first || (kind == work->out->warning && tells_more(work, mark))) {
        work->out->warning = kind;
        work_from(work, &work->out->from_warning, mark->start, mark->end);
    }
}

/* Whether any mark of the role holds as said: no figure of speech, not denied, of the client, not long ago. */
static bool holds(Work *work, Role role)
{
    bool found = false;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        Scope scope = scope_of(work, mark);
        if (scope.idiom || scope.denied || scope.long_ago || scope.other) continue;
        mark_say(work, mark);
        found = true;
    }
    return found;
}

/* "foot went to sleep as the cat lay on it": words of it are a sign that is the client's own. */
static bool own_sign(const Work *work, const Mark *mark)
{
    for (int role = ROLE_CRISIS; role <= ROLE_FALL; role++)
        for (int i = mark_first(work, (Role)role); i >= 0; i = mark_at(work, i)->next) {
            const Mark *sign = mark_at(work, i);
            if (sign->start < mark->end && sign->end > mark->start && !scope_of(work, sign).other)
                return true;
        }
    return false;
}

/* Supposed, or somebody else's beside the client's own report. */
static bool of_nobody(const Work *work, const Mark *mark)
{
    Scope scope = scope_of(work, mark);

    return scope.hypothetical || (scope.other && own_words(work, true) && !own_sign(work, mark));
}

/* The same where nothing can deny it: a question is a question. */
static bool stands(Work *work, Role role)
{
    bool found = false;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next)
        if (!role_touches(work, ROLE_IDIOM, mark_at(work, i)) &&
            !mark_void(work, role, mark_at(work, i)) &&
            !(role == ROLE_NEAR_SIGN && of_nobody(work, mark_at(work, i)))) {
            mark_say(work, mark_at(work, i));
            found = true;
        }
    return found;
}

void signs_read(Work *work)
{
    for (int kind = WARNING_CRISIS; kind <= WARNING_FALL; kind++) {
        Role role = (Role)(ROLE_CRISIS + kind - WARNING_CRISIS);
        for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next)
            weigh_sign(work, (ReadWarning)kind, mark_at(work, i));
    }
    if (work->out->warning == WARNING_FALL && holds(work, ROLE_BACK_PAIN))
        work->out->warning = WARNING_FRACTURE;
    bars_read(work);
    const Role seen[] = {ROLE_NEAR_SIGN, ROLE_ASK, ROLE_AWAY, ROLE_WRONG, ROLE_GUESS};
    bool concern = holds(work, ROLE_CONCERN), doubt = holds(work, ROLE_DOUBT);
    work->out->person |= concern || doubt;
    for (size_t i = 0; i < G_N_ELEMENTS(seen); i++) {
        if (!stands(work, seen[i])) continue;
        work->out->person = true;
        work->out->away |= seen[i] == ROLE_AWAY;
    }
    work->worrying = holds(work, ROLE_WORRY);
    if (work->question && asks(work)) work->out->person = true;
    work->for_person = work->out->person;
}

/* Whether the whole text is this keyword, polite words aside. */
static bool alone(Work *work, Role role)
{
    int count = token_count(work);

    for (int at = 0; at < count;) {
        int length = role_starts(work, role, at);
        if (length == 0) length = role_starts(work, ROLE_TAIL, at);
        if (length == 0) length = role_starts(work, ROLE_LEAD, at);
        if (length == 0) return false;
        at += length;
    }
    return mark_first(work, role) >= 0;
}

/* A wish in a sentence: neither denied nor for a while. */
static bool wished(Work *work, Role role)
{
    bool found = false;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        Scope scope = scope_of(work, mark);
        if (scope.idiom || scope.denied || scope.hypothetical) continue;
        if (role_touches(work, ROLE_CRISIS, mark) && work->out->warning == WARNING_CRISIS) continue;
        mark_say(work, mark);
        found = true;
    }
    return found;
}

/* One that is only written as it is heard ("halto") is a guess, which a person looks at. */
static void keyword(Work *work, ReadCommand command)
{
    work->out->command = command;
    work->out->bare_command = true;
    for (int i = 0; i < token_count(work); i++) {
        work->said[i] = true;
        work->out->person |= token_at(work, i)->heard;
    }
}

/* "D 4 0 STOP", "N. Stop": a stop word that closes the text, by itself or right behind a number, may be meant for the texts. */
static bool closes_with_stop(const Work *work)
{
    int count = token_count(work), length = role_ends(work, ROLE_STOP_WORD, count);

    if (length == 0 || length == count) return false;
    int at = count - length;
    return token_level(work, at) >= LEVEL_CLAUSE || number_over(work, at - 1) != NULL ||
           role_ends(work, ROLE_YES, at) == at || role_ends(work, ROLE_NO, at) == at;
}

void commands_read(Work *work)
{
    bool pause = stands(work, ROLE_PAUSE);

    work->out->away |= pause;
    if (alone(work, ROLE_STOP_WORD)) {
        keyword(work, COMMAND_STOP);
    } else if (alone(work, ROLE_START_WORD)) {
        keyword(work, COMMAND_START);
    } else if (alone(work, ROLE_HELP_WORD)) {
        keyword(work, COMMAND_HELP);
        work->out->person = true;
    } else if (pause) {
        work->out->person = true;
    } else if (wished(work, ROLE_STOP_ASK)) {
        work->out->command = COMMAND_STOP;
        work->out->person = true;
    } else if (wished(work, ROLE_START_ASK)) {
        work->out->command = COMMAND_START;
        work->out->person = true;
    } else if (stands(work, ROLE_HELP_ASK)) {
        work->out->command = COMMAND_HELP;
        work->out->person = true;
    } else if (closes_with_stop(work)) {
        work->out->person = true;
    }
}
