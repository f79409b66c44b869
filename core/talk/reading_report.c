/* SPDX-License-Identifier: Apache-2.0 */
/* Whether today's session was done, and pain told in words. */
#include "core/talk/reading_inside.h"

typedef struct {
    bool yes, no, partly, whole, later;
    bool yesterday;         /* something was said of another day's session */
    int no_start, no_end;   /* the last "no" */
    int yes_start;          /* that at which the last "yes" begins */
    int did_start, did_end; /* the last word of doing */
    int did;                /* how many of them */
    bool no_alone;          /* some "no" is the word alone */
} Evidence;

typedef enum { HOLD_NOT, HOLD_YES, HOLD_DENIED } Hold;

static int clause_start(const Work *work, int token)
{
    while (token > 0 && token_level(work, token) < LEVEL_CLAUSE)
        token--;
    return token;
}

/* How a mark of the report counts for today's own session. */
static Hold weigh(Work *work, Role role, const Mark *mark, bool *yesterday)
{
    Scope scope = scope_of(work, mark);

    bool other = scope.other && (!scope.apart || scope.kin) && /* "the cat has a limp, done" */
                 !own_again(work, mark->start) && !answer_by_letter(work, mark->start);
    if (scope.idiom || other || scope.hypothetical) return HOLD_NOT;
    if (scope.near && role == ROLE_NO) return HOLD_NOT; /* "nearly forgot" */
    bool told = role == ROLE_DID || (role == ROLE_NO && !work->out->suspend);
    if (scope.other_day && !(scope.day_apart && told)) {
        *yesterday = work->other_day = true;
        mark_say(work, mark);
        return HOLD_NOT;
    }
    if (scope.denied && scope.denial < mark->start &&
        role_covers(work, ROLE_PAIN_FREE, scope.denial))
        scope.denied = false; /* "no pain all done" */
    if (scope.denied && role == ROLE_DID && scope.denial < clause_start(work, mark->start))
        scope.denied = false; /* "neither numb nor dizzy, did them" */
    scope_say(work, mark, &scope);
    return scope.denied ? HOLD_DENIED : HOLD_YES;
}

static void note_place(const Work *work, Evidence *evidence, Role role, const Mark *mark)
{
    if ((role == ROLE_NO || role == ROLE_NOT_TODAY) && mark->end > evidence->no_end) {
        evidence->no_start = mark->start;
        evidence->no_end = mark->end;
    }
    if (role == ROLE_NO && mark->end - mark->start == 1) {
        const Token *word = token_at(work, mark->start);
        evidence->no_alone |= word->folded_length <= 2 || role_starts(work, ROLE_NOT, mark->start);
    }
    if (role == ROLE_YES || role == ROLE_DID)
        evidence->yes_start = MAX(evidence->yes_start, mark->start);
    evidence->did += role == ROLE_DID && mark->start >= evidence->did_end;
    if (role == ROLE_DID && mark->end > evidence->did_end) {
        evidence->did_start = mark->start;
        evidence->did_end = mark->end;
    }
}

/* "Forgot this morning, did them now, 4": the session was done and rated after all. */
static bool done_after_all(const Work *work, const Evidence *evidence)
{
    return work->out->intensity >= 0 && evidence->yes_start >= evidence->no_end &&
           work->rated_from >= evidence->no_end;
}

/* "not done, did the ironing": words behind what was done that say what it was. */
static bool did_else(const Work *work, int from)
{
    static const Role KNOWN[] = {ROLE_FILL, ROLE_TAIL,   ROLE_TODAY,         ROLE_YES,
                                 ROLE_DID,  ROLE_THANKS, ROLE_STRETCH_LABEL, ROLE_NUMBER_AFTER};

    for (int i = from; token_level(work, i) < LEVEL_CLAUSE; i++) {
        if (role_starts(work, ROLE_BUT, i) > 0 || role_starts(work, ROLE_AND, i) > 0) return false;
        if (number_over(work, i) == NULL && !role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), i))
            return true;
    }
    return false;
}

/* "No heart for it, but did them": a reason for "no" in words, and in a later clause or behind a "but" it was done. */
static bool done_in_spite(const Work *work, const Evidence *evidence)
{
    if (evidence->no_alone || evidence->no_end == 0 || evidence->did_start < evidence->no_end ||
        did_else(work, evidence->did_end))
        return false;
    for (int i = evidence->no_start + 1; i <= evidence->did_start; i++)
        if (token_level(work, i) >= LEVEL_CLAUSE || role_starts(work, ROLE_BUT, i) > 0) return true;
    return false;
}

/* "No, I did the ironing", "did the ironing but not the stretches": all that was done is something else. */
static bool did_instead(const Work *work, const Evidence *evidence)
{
    bool but = evidence->did_start >= evidence->no_end;

    for (int i = evidence->did_end; i <= evidence->no_start && !but; i++)
        but = role_starts(work, ROLE_BUT, i) > 0;
    return evidence->did == 1 && but && did_else(work, evidence->did_end);
}

/* "half with the nurse, the rest not": a whole that is denied right behind is none. */
static bool breaks_off(Work *work, Role role, const Mark *mark)
{
    if (role != ROLE_WHOLE || token_level(work, mark->end) >= LEVEL_CLAUSE ||
        role_starts(work, ROLE_NOT, mark->end) == 0)
        return false;
    for (int i = mark->start; i < mark->end; i++)
        role_drop(work, role, i);
    return true;
}

/* Whether any mark of the role counts; one that another reading of the same words outranks does
 * not. */
static bool found(Work *work, Role role, const Role *above, Evidence *evidence, bool *denied)
{
    bool any = false;

    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        bool outranked = report_outranked(work, role, mark);
        for (const Role *other = above; *other != ROLE_COUNT; other++)
            outranked |= role_touches(work, *other, mark);
        if (outranked || breaks_off(work, role, mark)) continue;
        Hold hold = weigh(work, role, mark, &evidence->yesterday);
        if (hold == HOLD_NOT) continue;
        if (hold == HOLD_DENIED && role == ROLE_YES) hold = HOLD_YES;
        if (hold == HOLD_DENIED && denied != NULL) {
            *denied = true;
            evidence->no_end = MAX(evidence->no_end, mark->end);
            work_from(work, &work->out->from_done, mark->start, mark->end);
        } else if (hold == HOLD_YES) {
            any = true;
            note_place(work, evidence, role, mark);
            if (role != ROLE_DID || work->out->from_done == NULL)
                work_from(work, &work->out->from_done, mark->start, mark->end);
        }
    }
    return any;
}

static const Role ABOVE_NONE[] = {ROLE_COUNT};
static const Role ABOVE_WHOLE[] = {ROLE_NOT_TODAY, ROLE_COUNT}; /* "tomorrow I'll do two lots" */
static const Role ABOVE_LATER[] = {ROLE_WHOLE, ROLE_NOT_TODAY, ROLE_COUNT};
static const Role ABOVE_PARTLY[] = {ROLE_WHOLE, ROLE_HALF, ROLE_PAIN_FREE, ROLE_PAIN_SOME,
                                    ROLE_COUNT};
static const Role ABOVE_NO[] = {ROLE_WHOLE,     ROLE_LATER,     ROLE_PARTLY, ROLE_PAIN_FREE,
                                ROLE_PAIN_SOME, ROLE_PAIN_GONE, ROLE_COUNT};
static const Role ABOVE_DID[] = {ROLE_NO,        ROLE_LATER,     ROLE_PARTLY, ROLE_PAIN,
                                 ROLE_PAIN_FREE, ROLE_PAIN_SOME, ROLE_COUNT};

/* Signs that a rating or a described set was given for today. */
static bool rated(const Work *work)
{
    for (int i = 0; i < (int)work->numbers->len; i++) {
        const Number *number = number_at(work, i);
        if (number->dropped) continue;
        if (number->dose && !dose_of_else(work, number)) return true;
        if (number->kind == NUMBER_OFF && number->value > 10 && number->whole &&
            (number->label == LABEL_STRETCH || number->end - number->first > 1))
            return true; /* "stretch 37", "12 out of 10": on no scale, but it was done */
    }
    return work->out->intensity >= 0 || work->turned;
}

static bool shared(const Work *work)
{
    for (int i = 0; i < (int)work->numbers->len; i++)
        if (number_is_share(work, number_at(work, i))) return true;
    return false;
}

/* "Did 10 of 10". */
static bool all_told(Work *work, Evidence *evidence)
{
    for (int i = mark_first(work, ROLE_PARTLY); i >= 0; i = mark_at(work, i)->next) {
        const Mark *mark = mark_at(work, i);
        if (report_is_all(work, mark) &&
            weigh(work, ROLE_PARTLY, mark, &evidence->yesterday) == HOLD_YES) {
            work_from(work, &work->out->from_done, mark->start, mark->end);
            return true;
        }
    }
    return false;
}

/* "did one side then my left arm went": what tells two halves is no whole where it is part of a sign. */
static void drop_broken_wholes(Work *work)
{
    for (int m = mark_first(work, ROLE_WHOLE); m >= 0; m = mark_at(work, m)->next) {
        const Mark *mark = mark_at(work, m);
        if (!report_outranked(work, ROLE_WHOLE, mark)) continue;
        for (int i = mark->start; i < mark->end; i++)
            role_drop(work, ROLE_WHOLE, i);
    }
}

/* "Regards, D": the last word is a name, behind words that end a letter. */
static bool signed_by(const Work *work)
{
    int last = token_count(work) - 1;

    return last > 0 && token_level(work, last) == LEVEL_CLAUSE &&
           role_ends(work, ROLE_TAIL, last) > 0;
}

static void read_done(Work *work)
{
    Evidence evidence = {0};
    bool denied = false;
    Reading *out = work->out;

    drop_broken_wholes(work);
    evidence.whole = found(work, ROLE_WHOLE, ABOVE_WHOLE, &evidence, NULL);
    evidence.later = found(work, ROLE_LATER, ABOVE_LATER, &evidence, NULL);
    evidence.partly = found(work, ROLE_PARTLY, ABOVE_PARTLY, &evidence, NULL);
    evidence.partly |= shared(work) || work->pieces || (!evidence.whole && report_parted(work));
    evidence.no = found(work, ROLE_NOT_TODAY, ABOVE_NONE, &evidence, NULL);
    evidence.no |= found(work, ROLE_NO, ABOVE_NO, &evidence, NULL);
    bool agreed = found(work, ROLE_YES, ABOVE_NO, &evidence, NULL);
    evidence.yes = found(work, ROLE_DID, ABOVE_DID, &evidence, &denied);
    evidence.yes |= agreed && !(evidence.later && out->intensity < 0); /* "yes, later" */
    evidence.yes |= all_told(work, &evidence);
    evidence.no |= denied;
    if (!evidence.yes && !evidence.no && !evidence.partly && !evidence.whole && !evidence.later &&
        !signed_by(work))
        evidence.yes = found(work, ROLE_YES_LAST, ABOVE_NONE, &evidence, NULL);
    if (work->bare_stretch && (evidence.no || evidence.later) && !evidence.yes &&
        !evidence.partly && !evidence.whole) {
        out->intensity = -1; /* "N 3": it may be anything */
        g_clear_pointer(&out->from_intensity, g_free);
        out->ambiguous_high = false;
        out->person = true;
    }
    if (evidence.whole)
        out->done = DONE_YES;
    else if (evidence.partly)
        out->done = DONE_PARTLY;
    else if (evidence.yes && evidence.no &&
             (done_after_all(work, &evidence) || done_in_spite(work, &evidence)))
        out->done = DONE_YES;
    else if (evidence.yes && evidence.no && !agreed && did_instead(work, &evidence))
        out->done = DONE_NO;
    else if (evidence.yes && evidence.no)
        out->person = true;
    else if (evidence.no && out->intensity >= 0 && !work->bare_stretch)
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

/* Whether a longer mark of the role holds the whole of a mark: "not a bit of pain" and "bit of
 * pain". */
static bool within(const Work *work, Role role, const Mark *mark)
{
    enum { BACK = 6 };

    for (int i = mark->start; i >= MAX(0, mark->start - BACK); i--) {
        int length = role_starts(work, role, i);
        if (i + length >= mark->end && length > mark->end - mark->start) return true;
    }
    return false;
}

/* Whether a mark is made of nothing but words of denial: "none", "nothing at all". */
static bool only_denies(const Work *work, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++)
        if (!role_covers(work, ROLE_NOT, i) && !role_covers(work, ROLE_NOT_AFTER, i) &&
            !role_covers(work, ROLE_LEAD, i) && !role_covers(work, ROLE_TAIL, i))
            return false;
    return true;
}

/* The first token of a report, or of a word for what is asked about; the count of tokens where there is none. */
static int first_report(const Work *work)
{
    static const Role REPORT[] = {ROLE_YES,        ROLE_DID,           ROLE_PARTLY,   ROLE_PAIN,
                                  ROLE_PAIN_LABEL, ROLE_STRETCH_LABEL, ROLE_PAIN_SOME};
    int count = token_count(work);

    for (int i = 0; i < count; i++) {
        if (number_over(work, i) != NULL && number_rateable(number_over(work, i))) return i;
        if (role_covers_any(work, REPORT, G_N_ELEMENTS(REPORT), i)) return i;
    }
    return count;
}

/* "pain nought point five": a nought that is part of more. */
static bool holds_more(const Work *work, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++) {
        const Number *number = number_over(work, i);
        if (number != NULL && number->value > 0 && number->value < 1) return true;
    }
    return false;
}

/* A number or a word for pain before the mark: what a denial alone may answer. */
static bool rated_before(const Work *work, const Mark *mark)
{
    for (int i = mark->start - 1; i >= 0; i--)
        if ((number_over(work, i) != NULL && number_rateable(number_over(work, i))) ||
            role_covers(work, ROLE_PAIN_LABEL, i))
            return true;
    return false;
}

/* "4, none" denies pain; "I have fallen behind, none today" does not: words of denial alone answer a report that stands
 * before them. */
static bool denies_nothing(const Work *work, const Mark *mark)
{
    if (only_denies(work, mark) && role_covers(work, ROLE_NO, mark->start) &&
        !rated_before(work, mark))
        return true;
    return (work->report >= mark->start && only_denies(work, mark)) || holds_more(work, mark);
}

/* Elsewhere they lose that role. */
static void drop_empty_denials(Work *work)
{
    for (int m = mark_first(work, ROLE_PAIN_FREE); m >= 0; m = mark_at(work, m)->next) {
        const Mark *mark = mark_at(work, m);
        for (int i = mark->start; denies_nothing(work, mark) && i < mark->end; i++)
            role_drop(work, ROLE_PAIN_FREE, i);
    }
}

typedef struct {
    bool some, none;
    int some_start, some_end, none_start, none_end;
} Worded;

/* "Pain? Not sure, maybe": the question of the reminder once more, and no answer that tells. */
static bool asked_alone(const Work *work, const Mark *mark)
{
    enum { NEAR = 2 };
    bool answered = false;

    if (!token_at(work, mark->start)->asked || token_level(work, mark->end) != LEVEL_SENTENCE ||
        (mark->start > 0 && token_level(work, mark->start) != LEVEL_SENTENCE))
        return false;
    for (int i = mark->end; i < MIN(token_count(work), mark->end + NEAR); i++)
        answered |= role_covers(work, ROLE_YES, i) || number_over(work, i) != NULL;
    for (int i = mark->end; i < token_count(work); i++) {
        if (i > mark->end && token_level(work, i) == LEVEL_SENTENCE) break;
        answered |= role_covers(work, ROLE_PAIN_SOME, i) || role_covers(work, ROLE_NOT_AFTER, i);
        if (role_covers(work, ROLE_GUESS, i)) return !answered;
    }
    return false;
}

static void weigh_pain(Work *work, Role role, const Mark *mark, Worded *worded)
{
    if ((role == ROLE_PAIN || role == ROLE_PAIN_SOME) && role_touches(work, ROLE_PAIN_GONE, mark) &&
        !(role == ROLE_PAIN_SOME && pain_came_back(work, mark)))
        return;
    if (role == ROLE_PAIN_GONE && within(work, ROLE_PAIN_SOME, mark)) return;
    if (role != ROLE_PAIN_SOME && role != ROLE_PAIN_GONE &&
        role_touches(work, ROLE_PAIN_SOME, mark) &&
        !(role == ROLE_PAIN_FREE && !within(work, ROLE_PAIN_SOME, mark)))
        return;
    if (role == ROLE_PAIN_SOME && within(work, ROLE_PAIN_FREE, mark)) return;
    if (role == ROLE_PAIN_GONE && role_touches(work, ROLE_PAIN_FREE, mark)) return;
    if (role == ROLE_PAIN_FREE && denies_nothing(work, mark)) return;
    if (role == ROLE_PAIN && asked_alone(work, mark)) return;
    if (role == ROLE_PAIN_FREE && role_touches(work, ROLE_NOT_PAIN, mark)) return;
    if (role == ROLE_PAIN_FREE && token_at(work, mark->end - 1)->asked &&
        (role_occurs(work, ROLE_ASK) || token_level(work, mark->start) < LEVEL_CLAUSE) &&
        report_asked(work, mark))
        return; /* "should there be no pain?" */
    if (role == ROLE_PAIN &&
        (role_touches(work, ROLE_PAIN_FREE, mark) || role_touches(work, ROLE_NOT_PAIN, mark)))
        return;
    const Number *number = number_over(work, mark->start);
    if (role == ROLE_PAIN_FREE && number != NULL &&
        ((!number_rateable(number) && number->value != 0) ||
         (number->weak && !mark_names(mark, number->end))))
        return; /* "in 1987, nothing since"; "a bit of nothing", where the article is no number */
    Scope scope = scope_of(work, mark);
    if (scope.idiom || scope.other || scope.hypothetical) return;
    scope_say(work, mark, &scope);
    if (scope.other_day && role != ROLE_PAIN_GONE && work->out->warning == WARNING_NONE &&
        !role_touches(work, ROLE_CONCERN, mark))
        return; /* of a sign, or of what wakes at night, it is told since then */
    for (int i = scope.denial; scope.denied && scope.denial >= mark->end && i < scope.denial_end;
         i++)
        role_drop(work, ROLE_NO, i); /* "Pain? No" */
    bool denied = role == ROLE_PAIN_FREE || (role == ROLE_PAIN_GONE && !scope.denied) ||
                  (role == ROLE_PAIN && scope.denied);
    if (denied && !worded->none) {
        worded->none = true;
        worded->none_start = mark->start;
        worded->none_end = mark->end;
    } else if (!denied && !worded->some) {
        worded->some = true;
        worded->some_start = mark->start;
        worded->some_end = mark->end;
    }
}

/* Pain in words; a number goes above it later. */
static void read_pain(Work *work)
{
    static const Role ROLES[] = {ROLE_PAIN_GONE, ROLE_PAIN_SOME, ROLE_PAIN_FREE, ROLE_PAIN};
    Worded worded = {0};

    for (size_t r = 0; r < G_N_ELEMENTS(ROLES); r++)
        for (int i = mark_first(work, ROLES[r]); i >= 0; i = mark_at(work, i)->next)
            weigh_pain(work, ROLES[r], mark_at(work, i), &worded);
    if (worded.some) {
        work->out->pain_kind = PAIN_SOME;
        work_from(work, &work->out->from_pain, worded.some_start, worded.some_end);
    } else if (worded.none) {
        work->out->pain_kind = PAIN_NUMBER;
        work->out->pain = 0;
        work_from(work, &work->out->from_pain, worded.none_start, worded.none_end);
    }
}

void report_read(Work *work)
{
    work->report = first_report(work);
    drop_empty_denials(work);
    read_pain(work);
    rates_read(work);
    work->out->person |= work->worrying && work->out->pain_kind == PAIN_SOME;
    read_done(work);
}
