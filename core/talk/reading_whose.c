/* SPDX-License-Identifier: Apache-2.0 */
/* Whose body and whose session it is that is told: the client's, or somebody else's of whom the text speaks. */
#include "core/talk/reading_inside.h"

enum { REACH = READ_REACH };

/* A relative writes of the client, unless there is a word of a session of the writer's own. */
void scope_prepare(Work *work)
{
    for (int i = mark_first(work, ROLE_CLIENT); i >= 0 && !work->told; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        /* a mother, but not a mother in law */
        work->told = role_starts(work, ROLE_OTHER, mark->start) <= mark->end - mark->start;
    }
    for (int i = mark_first(work, ROLE_DID); i >= 0 && work->told; i = mark_at(work, i)->next)
        work->told = !role_touches(work, ROLE_SELF, mark_at(work, i));
}

/* "given the budgie away": somebody whom the mark itself names. */
static bool names_any(const Mark *mark, int from, int length)
{
    for (int i = from; i < from + length; i++)
        if (mark_names(mark, i)) return true;
    return false;
}

/* Whether the clause of a token has the client as its subject before it: "put my back out lifting
 * the baby". */
static bool client_before(const Work *work, int token)
{
    for (int i = token; i >= 0 && token - i < REACH; i--) {
        if (i < token && role_starts(work, ROLE_SELF, i) > 0 && !role_covers(work, ROLE_OTHER, i))
            return true;
        if (token_at(work, i)->level >= LEVEL_CLAUSE) return false;
    }
    return false;
}

/* "My neighbour fell. Broke her hip.": the sentence leaves its subject out, speaks of somebody's body, and the one before
 * it has somebody else for its subject. */
static bool carries_other(const Work *work, const Mark *mark, Scope *scope)
{
    int first, end, before, behind;
    bool theirs = false;

    if (mark_first(work, ROLE_THEIRS) < 0) return false;
    mark_sentence(work, mark, &first, &end);
    for (int i = first; i < end; i++) {
        theirs |= role_covers(work, ROLE_THEIRS, i);
        if (role_starts(work, ROLE_SELF, i) > 0) return false;
    }
    if (!theirs || first == 0) return false;
    mark_sentence(work, &(Mark){.start = (guint16)(first - 1), .end = (guint16)first}, &before,
                  &behind);
    for (int i = before; i < first; i++) {
        if (role_starts(work, ROLE_SELF, i) > 0 && !role_covers(work, ROLE_OTHER, i)) return false;
        if (role_starts(work, ROLE_OTHER, i) == 0) continue;
        scope->kin = role_covers(work, ROLE_KIN, i) || role_covers(work, ROLE_KIN, i + 1);
        return true;
    }
    return false;
}

/* Words that somebody who is spoken to stands between: "no worries mate all done", "Yes nurse 4". */
static bool beside_report(const Work *work, int token, bool before)
{
    static const Role REPORT[] = {ROLE_YES,  ROLE_NO,     ROLE_DID,  ROLE_PARTLY,   ROLE_LATER,
                                  ROLE_TAIL, ROLE_THANKS, ROLE_LEAD, ROLE_PAIN_FREE};

    for (size_t r = 0; r < G_N_ELEMENTS(REPORT); r++)
        if ((before ? role_ends : role_starts)(work, REPORT[r], token) > 0) return true;
    return number_over(work, before ? token - 1 : token) != NULL;
}

/* Somebody who is spoken to, and not about: a word of the report before it or the start of the clause, and one behind
 * it or the end. */
static bool addressed(const Work *work, int token)
{
    int length = role_starts(work, ROLE_OTHER, token), end = token + length;
    bool opens = token == 0 || token_at(work, token)->level >= LEVEL_CLAUSE;

    if (role_starts(work, ROLE_TAIL, token) != length ||
        (token > 0 && role_covers(work, ROLE_OTHER, token - 1)))
        return false;
    return (opens || beside_report(work, token, true)) &&
           (token_level(work, end) >= LEVEL_CLAUSE || (!opens && beside_report(work, end, false)));
}

/* "no space to swing a cat": somebody in a figure of speech of more words. */
static bool in_saying(const Work *work, int token)
{
    int end = token + role_starts(work, ROLE_OTHER, token);

    if (!role_covers(work, ROLE_IDIOM, token)) return false;
    return (end < token_count(work) && role_covers(work, ROLE_IDIOM, end)) ||
           (token > 0 && role_covers(work, ROLE_IDIOM, token - 1) &&
            !role_covers(work, ROLE_OTHER, token - 1));
}

/* "did one leg and the cow calved": what joins somebody to the mark begins a clause of that one's own within it. */
static bool joined_within(const Work *work, const Mark *mark, int token)
{
    while (token > mark->start && role_covers(work, ROLE_OTHER, token - 1))
        token--;
    return token > mark->start && !mark_names(mark, token) &&
           (role_ends(work, ROLE_AND, token) > 0 || role_ends(work, ROLE_BUT, token) > 0);
}

/* Whether somebody opens a clause, polite words and the like before them: "well, my wife did" and not "breathless about
 * the new baby, did mine". */
static bool opens_for(const Work *work, int token)
{
    static const Role BEFORE[] = {ROLE_LEAD, ROLE_AND, ROLE_BUT, ROLE_BREAK, ROLE_FILL, ROLE_YES};

    for (int i = token; i >= 0; i--) {
        if (token_at(work, i)->level >= LEVEL_CLAUSE || i == 0) return true;
        if (!role_covers_any(work, BEFORE, G_N_ELEMENTS(BEFORE), i - 1)) return false;
    }
    return true;
}

/* "my mother": one of the family is among the words that name somebody. */
static bool kin_named(const Work *work, int token, int length)
{
    for (int i = token; i < token + length; i++)
        if (role_covers(work, ROLE_KIN, i)) return true;
    return false;
}

/* Whose body: the nearest person to the left in the sentence, from an earlier clause only its
 * subject; else one just behind; else the client. */
bool scope_others(const Work *work, const Mark *mark, Scope *scope)
{
    int first = MAX(0, mark->start - REACH * 2);
    bool earlier = false, theirs = role_touches(work, ROLE_THEIRS, mark); /* "with mum, her leg" */

    if (!role_occurs(work, ROLE_OTHER) && !role_occurs(work, ROLE_OTHER_BEHIND) &&
        !role_occurs(work, ROLE_THEIRS))
        return false;
    for (int i = mark->end - 1; i >= first; i--) {
        if (role_covers(work, ROLE_OTHER, i) && role_starts(work, ROLE_OTHER, i) > 0 &&
            !in_saying(work, i) && !names_any(mark, i, role_starts(work, ROLE_OTHER, i)) &&
            !addressed(work, i) && !joined_within(work, mark, i) &&
            !(earlier && !theirs && (client_before(work, i) || !opens_for(work, i))) &&
            role_ends(work, ROLE_HANDLED, i) == 0) {
            scope->apart = earlier;
            scope->kin = kin_named(work, i, role_starts(work, ROLE_OTHER, i));
            return !work->told;
        }
        if (role_starts(work, ROLE_SELF, i) > 0 && !role_covers(work, ROLE_OTHER, i)) return false;
        if (role_starts(work, ROLE_CLIENT, i) > 0) return false;
        if (token_at(work, i)->level == LEVEL_SENTENCE) break;
        if (i <= mark->start &&
            (token_at(work, i)->level == LEVEL_CLAUSE || role_starts(work, ROLE_BUT, i) > 0))
            earlier = true;
    }
    for (int i = mark->end; i < MIN(token_count(work), mark->end + 3); i++) {
        if (token_at(work, i)->level >= LEVEL_CLAUSE) break;
        if (role_starts(work, ROLE_OTHER_BEHIND, i) > 0 && role_ends(work, ROLE_HANDLED, i) == 0) {
            int length = role_starts(work, ROLE_OTHER_BEHIND, i);
            scope->kin = role_covers(work, ROLE_KIN, i + length - 1);
            return !work->told;
        }
    }
    return carries_other(work, mark, scope) && !work->told;
}
