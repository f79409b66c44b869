/* SPDX-License-Identifier: Apache-2.0 */
/* A denial of pain beside the words of a sign: what it takes away, and what it leaves. */
#include "core/talk/reading_inside.h"

/* Whether nothing but what goes with a report, or is denied, stands in the sentence beside the mark and the denial. */
static bool says_no_more(const Work *work, const Mark *sign, const Mark *denial)
{
    static const Role KNOWN[] = {
        ROLE_FILL,  ROLE_LEAD,          ROLE_TAIL,       ROLE_YES,       ROLE_DID,
        ROLE_WHOLE, ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_PAIN_FREE, ROLE_THANKS,
        ROLE_TODAY, ROLE_NUMBER_BEFORE, ROLE_SELF,       ROLE_CLIENT,    ROLE_AND};
    int from = MIN(sign->start, denial->start), to = MAX(sign->end, denial->end);

    if (token_level(work, to) < LEVEL_CLAUSE) return false; /* "no pain chest heavy" */
    while (from > 0 && token_level(work, from) != LEVEL_SENTENCE)
        from--;
    while (token_level(work, to) != LEVEL_SENTENCE)
        to++;
    for (int i = from; i < to; i++) {
        bool within =
            (i >= sign->start && i < sign->end) || (i >= denial->start && i < denial->end);
        if (!within && number_over(work, i) == NULL &&
            !role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), i))
            return false;
    }
    return true;
}

/* The one word of the mark that a denial of pain does not hold, -1 where it holds none of the others, or more are left. */
static int left_bare(const Mark *sign, const Mark *denial)
{
    int bare = -1, held = 0;

    for (int i = sign->start; i < sign->end; i++) {
        if (!mark_names(sign, i)) continue;
        bool holds = i >= denial->start && i < denial->end;
        held += holds;
        if (!holds && bare >= 0) return -1;
        if (!holds) bare = i;
    }
    return held > 0 ? bare : -1;
}

/* "my chest doesn't hurt", "no me duele el pecho", and no more than that is said: where it does not hurt is no sign. */
bool sign_only_hurts_not(const Work *work, ReadWarning kind, const Mark *sign)
{
    for (int d = mark_first(work, ROLE_PAIN_FREE); d >= 0; d = mark_at(work, d)->next) {
        const Mark *denial = mark_at(work, d);
        if (denial->start > sign->end + PATTERN_REACH ||
            denial->end + PATTERN_REACH < sign->start || role_touches(work, ROLE_PAIN_SOME, denial))
            continue;
        bool denied = left_bare(sign, denial) >= 0 ||
                      (sign->end - sign->start == 1 && sign->end == denial->start &&
                       token_level(work, sign->end) < LEVEL_CLAUSE);
        Role role = (Role)(ROLE_CRISIS + (int)kind - WARNING_CRISIS);
        int i = sign->end - sign->start == 1 ? mark_first(work, role) : -1;
        for (; i >= 0 && !denied; i = mark_at(work, i)->next)
            denied = mark_at(work, i)->start <= sign->start &&
                     mark_at(work, i)->end > sign->start &&
                     left_bare(mark_at(work, i), denial) == sign->start;
        if (denied && says_no_more(work, sign, denial)) return true;
    }
    return false;
}

/* "no pain chest heavy", without a comma: a denial of pain that is whole, and right behind it a part of the body and how that is. */
bool sign_begins_anew(const Work *work, const Mark *sign)
{
    int named = 0;

    for (int i = sign->start; i < sign->end; i++)
        named += mark_names(sign, i);
    return named > 1 && role_starts(work, ROLE_HOMONYM, sign->start) > 0 &&
           role_ends(work, ROLE_PAIN_FREE, sign->start) > 0;
}
