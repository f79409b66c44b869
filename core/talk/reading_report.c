/* SPDX-License-Identifier: Apache-2.0 */
/* Whether today's session was done, and pain told in words. */
#include "core/talk/reading_inside.h"

typedef struct {
    bool yes, no, partly, whole, later;
    bool yesterday; /* something was said of another day's session */
} Evidence;

typedef enum { HOLD_NOT, HOLD_YES, HOLD_DENIED } Hold;

/* How a mark of the report counts for today's own session. */
static Hold weigh(Work *work, const Mark *mark, bool *yesterday)
{
    Scope scope = scope_of(work, mark);

    if (scope.idiom || scope.other || scope.hypothetical) return HOLD_NOT;
    if (scope.other_day) {
        *yesterday = true;
        mark_say(work, mark);
        return HOLD_NOT;
    }
    scope_say(work, mark, &scope);
    return scope.denied ? HOLD_DENIED : HOLD_YES;
}

/* Whether any mark of the role counts; one that another reading of the same words outranks does
 * not. */
static bool found(Work *work, Role role, const Role *above, Evidence *evidence, bool *denied)
{
    bool any = false;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next_of_class) {
        const Mark *mark = mark_at(work, i);
        bool outranked = false;
        for (const Role *other = above; *other != ROLE_COUNT; other++)
            outranked |= role_touches(work, *other, mark);
        if (outranked) continue;
        Hold hold = weigh(work, mark, &evidence->yesterday);
        if (hold == HOLD_NOT) continue;
        if (hold == HOLD_DENIED && denied != NULL) {
            *denied = true;
            work_from(work, &work->out->from_done, mark->start, mark->end);
        } else if (hold == HOLD_YES) {
            any = true;
            if (role != ROLE_DID || work->out->from_done == NULL)
                work_from(work, &work->out->from_done, mark->start, mark->end);
        }
    }
    return any;
}

static const Role ABOVE_NONE[] = {ROLE_COUNT};
static const Role ABOVE_LATER[] = {ROLE_WHOLE, ROLE_NOT_TODAY, ROLE_COUNT};
static const Role ABOVE_PARTLY[] = {ROLE_WHOLE, ROLE_COUNT};
static const Role ABOVE_NO[] = {ROLE_WHOLE,     ROLE_LATER,     ROLE_PARTLY,
                                ROLE_PAIN_FREE, ROLE_PAIN_SOME, ROLE_COUNT};
static const Role ABOVE_DID[] = {ROLE_NO, ROLE_LATER, ROLE_PARTLY, ROLE_COUNT};

/* Signs that a rating or a described set was given for today. */
static bool rated(const Work *work)
{
    for (int i = 0; i < (int)work->numbers->len; i++) {
        const Number *number = number_at(work, i);
        if (!number->dropped && number->dose) return true;
    }
    return work->out->intensity >= 0;
}

static void read_done(Work *work)
{
    Evidence evidence = {0};
    bool denied = false, none = false;
    Reading *out = work->out;

    evidence.whole = found(work, ROLE_WHOLE, ABOVE_NONE, &evidence, NULL);
    evidence.later = found(work, ROLE_LATER, ABOVE_LATER, &evidence, NULL);
    evidence.partly = found(work, ROLE_PARTLY, ABOVE_PARTLY, &evidence, NULL);
    evidence.no = found(work, ROLE_NOT_TODAY, ABOVE_NONE, &evidence, NULL);
    evidence.no |= found(work, ROLE_NO, ABOVE_NO, &evidence, NULL);
    evidence.yes = found(work, ROLE_YES, ABOVE_NO, &evidence, &none);
    evidence.yes |= found(work, ROLE_DID, ABOVE_DID, &evidence, &denied);
    evidence.no |= denied;
    if (evidence.whole)
        out->done = DONE_YES;
    else if (evidence.partly)
        out->done = DONE_PARTLY;
    else if (evidence.yes && evidence.no)
        out->person = true;
    else if (evidence.no && out->intensity >= 0)
        out->person = true;
    else if (evidence.no)
        out->done = DONE_NO;
    else if (evidence.later && !evidence.yes)
        out->person |= out->intensity >= 0;
    else if (evidence.yes)
        out->done = DONE_YES;
    else if (rated(work) && !evidence.later && !(evidence.yesterday && out->intensity < 0))
        out->done = DONE_YES;
    if (out->done == DONE_UNSAID)
        g_clear_pointer(&out->from_done, g_free);
    else if (out->from_done == NULL && out->from_intensity != NULL)
        out->from_done = g_strdup(out->from_intensity);
}

/* Pain in words, where no number gave it. */
static void read_pain(Work *work)
{
    bool some = false, none = false;
    int some_start = -1, some_end = 0, none_start = -1, none_end = 0;
    const Role roles[] = {ROLE_PAIN_SOME, ROLE_PAIN_FREE, ROLE_PAIN};

    for (size_t r = 0; r < G_N_ELEMENTS(roles); r++)
        for (int i = mark_first(work, roles[r]); i >= 0; i = mark_at(work, i)->next_of_class) {
            const Mark *mark = mark_at(work, i);
            if (r > 0 && role_touches(work, ROLE_PAIN_SOME, mark)) continue;
            if (r > 1 && role_touches(work, ROLE_PAIN_FREE, mark)) continue;
            Scope scope = scope_of(work, mark);
            if (scope.idiom || scope.other || scope.hypothetical) continue;
            scope_say(work, mark, &scope);
            if (scope.other_day) continue;
            bool denied = r == 1 || (r == 2 && scope.denied);
            if (denied && !none) {
                none = true;
                none_start = mark->start;
                none_end = mark->end;
            } else if (!denied && !some) {
                some = true;
                some_start = mark->start;
                some_end = mark->end;
            }
        }
    if (work->out->pain_kind == PAIN_NUMBER) return;
    if (some) {
        work->out->pain_kind = PAIN_SOME;
        work_from(work, &work->out->from_pain, some_start, some_end);
    } else if (none) {
        work->out->pain_kind = PAIN_NUMBER;
        work->out->pain = 0;
        work_from(work, &work->out->from_pain, none_start, none_end);
    }
    if (some && mark_first(work, ROLE_WORRY) >= 0) work->out->person = true;
}

void report_read(Work *work)
{
    read_pain(work);
    rates_read(work);
    read_done(work);
}
