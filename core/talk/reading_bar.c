/* SPDX-License-Identifier: Apache-2.0 */
/* What keeps messages from a client at once: words of a death, a hospital or an illness, and of somebody else
 * who has the client's number. */
#include <string.h>

#include "core/talk/reading_inside.h"

/* "not dead", and not "No. Mother died" or "Mrs N died": what denies a death stands right before it, with nobody named between, and is
 * more than a letter. */
static bool survived(const Work *work, const Mark *mark, const Scope *scope)
{
    enum { CLOSE = 3 };

    if (!scope->denied) return false;
    if (scope->denial >= mark->start) return true;
    if (mark->start - scope->denial > CLOSE || token_at(work, scope->denial)->folded_length == 1)
        return false;
    for (int i = scope->denial + 1; i < mark->start; i++)
        if (role_covers(work, ROLE_OTHER, i) || role_covers(work, ROLE_KIN, i) ||
            role_covers(work, ROLE_CLIENT, i))
            return false;
    return true;
}

/* A death counts whoever died: the client's own is told in the same words. */
static bool death_holds(const Work *work, const Mark *mark)
{
    Scope scope = scope_of(work, mark);

    return !scope.idiom && !scope.long_ago && !scope.story && !scope.near && !scope.hypothetical &&
           !role_touches(work, ROLE_PET_LOSS, mark) && !survived(work, mark, &scope);
}

/* A hospital or an illness counts for the client and the family. */
static bool illness_holds(const Work *work, const Mark *mark)
{
    Scope scope = scope_of(work, mark);

    return !scope.idiom && !scope.denied && !scope.long_ago && (!scope.other || scope.kin);
}

/* The first mark of a role that holds is kept as the words; all that hold are read. */
static bool read_bar(Work *work, Role role, bool (*holds)(const Work *, const Mark *), char **words)
{
    const Mark *first = NULL;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        if (!holds(work, mark)) continue;
        mark_say(work, mark);
        if (first == NULL || mark->start < first->start) first = mark;
    }
    if (first == NULL) return false;
    int from, end;
    mark_sentence(work, first, &from, &end);
    work_from(work, words, from, end);
    return true;
}

void bars_read(Work *work)
{
    Reading *out = work->out;

    out->death = read_bar(work, ROLE_DEATH, death_holds, &out->from_suspend);
    out->suspend = out->death;
    if (!out->death) out->suspend = read_bar(work, ROLE_SUSPEND, illness_holds, &out->from_suspend);
    out->person |= out->suspend;
}

/* A word that begins with a capital and that the pack does not have as written. */
static bool is_name(const Work *work, int token)
{
    if (token >= token_count(work)) return false;
    const Token *word = token_at(work, token);
    bool known = (word->word != 0 || word->stem != 0) && !word->fuzzy && !word->heard;
    if (known || word->digits || word->level >= LEVEL_CLAUSE || word->folded_length < 2)
        return false;
    const char *at = work->text + word->from;
    return g_unichar_isupper(g_utf8_get_char(at)) &&
           g_unichar_islower(g_utf8_get_char(g_utf8_next_char(at)));
}

static bool number_holds(const Work *work, const Mark *mark)
{
    Scope scope = scope_of(work, mark);

    return !scope.idiom && !scope.denied && !scope.hypothetical && !scope.story &&
           !token_at(work, mark->start)->asked;
}

static bool named_holds(const Work *work, const Mark *mark)
{
    return number_holds(work, mark) && is_name(work, mark->end);
}

/* "wrong number, I meant 4": who reports a session is the client, or writes for them. */
void bars_read_number(Work *work)
{
    Reading *out = work->out;

    bool reports = out->done == DONE_YES || out->done == DONE_PARTLY;
    if (reports || out->intensity >= 0 || out->pain_kind != PAIN_UNSAID) return;
    out->wrong_number = read_bar(work, ROLE_WRONG_NUMBER, number_holds, &out->from_wrong_number) ||
                        read_bar(work, ROLE_NOT_NAMED, named_holds, &out->from_wrong_number);
    if (!out->wrong_number) return;
    out->person = true;
    out->done = DONE_UNSAID; /* "not been to physio, wrong person" is no session of the client's */
    g_clear_pointer(&out->from_done, g_free);
}

/* Whether the client stands before a sign as its subject: "my wife died and I have a pain in the chest". */
static bool tells_own(const Work *work, const Mark *mark)
{
    for (int i = mark->end - 1; i >= 0; i--) {
        if (role_starts(work, ROLE_SELF, i) > 0 && !role_covers(work, ROLE_OTHER, i) &&
            !role_covers(work, ROLE_KIN, i + role_starts(work, ROLE_SELF, i)))
            return true;
        if (token_at(work, i)->level >= LEVEL_CLAUSE) return false;
    }
    return false;
}

bool bars_own_sign(const Work *work, const Mark *mark, const Scope *scope)
{
    int first, end;

    if (role_touches(work, ROLE_CRISIS, mark)) return true;
    if (scope->other || work->told) return false;
    mark_sentence(work, mark, &first, &end);
    for (int i = first; i < end; i++)
        if (role_covers(work, ROLE_DEATH, i)) return tells_own(work, mark);
    return true;
}

void bars_say_pets(Work *work)
{
    for (int i = mark_first(work, ROLE_PET_LOSS); i >= 0; i = mark_at(work, i)->next) {
        int first, end;
        mark_sentence(work, mark_at(work, i), &first, &end);
        memset(work->said + first, true, (size_t)(end - first));
    }
}

bool bars_said(const Work *work)
{
    static const Role BARS[] = {ROLE_DEATH, ROLE_SUSPEND, ROLE_PET_LOSS, ROLE_WRONG_NUMBER};

    for (size_t r = 0; r < G_N_ELEMENTS(BARS); r++)
        for (int i = mark_first(work, BARS[r]); i >= 0; i = mark_at(work, i)->next)
            if (!role_touches(work, ROLE_IDIOM, mark_at(work, i))) return true;
    return false;
}
