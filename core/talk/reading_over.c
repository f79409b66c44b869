/* SPDX-License-Identifier: Apache-2.0 */
/* "pain was a 4 at breakfast but that's all gone off now": whether a pain that has its number is over. */
#include "core/talk/reading_inside.h"

enum { FAR = 40 }; /* tokens; what is told further off is of something else */

/* "gone now, then it came back", "went and came back": more of the same is told, and not of somebody or something else. */
static bool goes_on(const Work *work, int token)
{
    static const Role OWN[] = {ROLE_SUBJECT,       ROLE_DID,        ROLE_YES,
                               ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_TODAY};
    int joint = role_starts(work, ROLE_AND, token);

    if (role_starts(work, ROLE_BUT, token) > 0 || role_covers(work, ROLE_PAIN_SOME, token))
        return true;
    if (role_covers(work, ROLE_BREAK, token)) return !role_covers(work, ROLE_TODAY, token);
    return joint > 0 && token_level(work, token + joint) != LEVEL_SENTENCE &&
           number_over(work, token + joint) == NULL &&
           !role_covers_any(work, OWN, G_N_ELEMENTS(OWN), token + joint);
}

/* "8, and it has not gone off", "8 in the knee, the hip pain has gone", "8 today, last week it was gone": whether it is this pain
 * that a mark tells to be over, without a doubt and for good. */
static bool is_over(const Work *work, const Number *number, const Mark *gone)
{
    static const Role DOUBTS[] = {ROLE_NOT, ROLE_IF, ROLE_OTHER_DAY, ROLE_GUESS, ROLE_LATER};

    for (int i = number->end; i < gone->start; i++)
        if (token_level(work, i + 1) >= LEVEL_CLAUSE || role_starts(work, ROLE_BUT, i) > 0)
            return false;
    for (int i = number->end; i < gone->end; i++)
        if (!mark_names(gone, i) && role_covers_any(work, DOUBTS, G_N_ELEMENTS(DOUBTS), i))
            return false;
    for (int i = gone->end; i < gone->end + FAR && token_level(work, i) != LEVEL_SENTENCE; i++)
        if (goes_on(work, i)) return false;
    return true;
}

bool number_gone_behind(const Work *work, const Number *number)
{
    bool gone = false;
    int end = number->end;

    if (!role_occurs(work, ROLE_PAIN_GONE) || work->out->pain_kind != PAIN_NUMBER) return false;
    while (end < number->end + FAR && token_level(work, end) != LEVEL_SENTENCE)
        end++;
    for (int m = mark_first(work, ROLE_PAIN_GONE); m >= 0; m = mark_at(work, m)->next) {
        const Mark *mark = mark_at(work, m);
        if (mark->end <= number->end || mark->end > end || mark_void(work, ROLE_PAIN_GONE, mark))
            continue;
        if (!is_over(work, number, mark)) return false;
        gone = true;
    }
    return gone;
}

bool pain_came_back(const Work *work, const Mark *mark)
{
    for (int m = mark_first(work, ROLE_PAIN_GONE); m >= 0; m = mark_at(work, m)->next) {
        const Mark *gone = mark_at(work, m);
        if (gone->start >= mark->start && gone->end < mark->end) return true;
    }
    return false;
}
