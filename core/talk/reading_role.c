/* SPDX-License-Identifier: Apache-2.0 */
/* What the marks of a text say, by role and by token. */
#include "core/talk/reading_inside.h"

void mark_sentence(const Work *work, const Mark *mark, int *first, int *end)
{
    int count = token_count(work);

    *first = mark->start;
    while (*first > 0 && token_at(work, *first)->level != LEVEL_SENTENCE &&
           mark->start - *first < 60)
        (*first)--;
    *end = mark->end;
    while (*end < count && token_at(work, *end)->level != LEVEL_SENTENCE && *end - mark->end < 60)
        (*end)++;
}

bool role_touches(const Work *work, Role role, const Mark *mark)
{
    if (!role_occurs(work, role)) return false;
    for (int i = mark->start; i < mark->end; i++)
        if (mark_names(mark, i) && role_covers(work, role, i)) return true;
    return false;
}

void mark_say(Work *work, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++)
        if (mark_names(mark, i)) work->said[i] = true;
}

/* "the plan: I fell" is no plan that fell: the client, whom the words leave out, stands before the fall as its subject. */
static bool skips_client(const Work *work, const Mark *mark)
{
    for (int i = mark->start + 1; i < mark->end - 1; i++)
        if (!mark_names(mark, i) && mark_names(mark, i + 1) &&
            role_starts(work, ROLE_SELF, i) > 0 && role_starts(work, ROLE_SUBJECT, i) > 0 &&
            role_starts(work, ROLE_FALL, i + 1) > 0)
            return true;
    return false;
}

/* "like I have been sat by the fire" is no cause, "stabbing when I take a deep breath" no mere breath. */
bool mark_void(const Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_HARMLESS && role != ROLE_IDIOM && role != ROLE_NEAR_SIGN) return false;
    return role_touches(work, ROLE_PLAIN, mark) ||
           (role == ROLE_IDIOM && role_occurs(work, ROLE_FALL) && skips_client(work, mark));
}

static void cover(Work *work, Role role)
{
    guint64 bit = G_GUINT64_CONSTANT(1) << (role % 64);
    bool figures = role > ROLE_THANKS && role_occurs(work, ROLE_IDIOM);

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        if (mark_void(work, role, mark)) continue;
        if (figures && role_touches(work, ROLE_IDIOM, mark)) continue;
        for (int t = mark->start; t < mark->end; t++)
            if (mark_names(mark, t)) work->covers[t].bits[role / 64] |= bit;
    }
}

/* Notes by token which roles name it, so that asking costs nothing later. What a figure of speech
 * touches does not count. */
void roles_cover(Work *work)
{
    for (int i = 0; i < (int)G_N_ELEMENTS(work->occurring.bits); i++)
        for (guint64 left = work->occurring.bits[i]; left != 0; left &= left - 1)
            cover(work, (Role)(i * 64 + __builtin_ctzll(left)));
}
