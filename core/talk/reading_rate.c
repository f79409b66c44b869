/* SPDX-License-Identifier: Apache-2.0 */
/* Which number is the stretch and which the pain.
 *
 * A number with a word for stretch or pain has its place. One without is a rating only where every word around it is known
 * to leave it one; then the order of the question holds: stretch, then pain. */
#include "core/talk/reading_inside.h"

bool number_rateable(const Number *number)
{
    return !number->dropped && number->kind != NUMBER_COUNT;
}

typedef struct {
    double sum;
    int count;
    int first, end; /* tokens of the last one */
    int sides;
    bool same; /* all are one value */
} Rate;

static void rate_add(Rate *rate, const Number *number)
{
    rate->same = rate->count == 0 || (rate->same && number->value * rate->count == rate->sum);
    rate->sum += number->value;
    rate->count++;
    rate->first = rate->count == 1 ? number->first : rate->first;
    rate->end = number->end;
    rate->sides |= number->side;
}

/* One value, however often it is told, or the mean of one for each side. False where the numbers do not agree on one. */
static bool rate_value(const Rate *rate, double *value)
{
    *value = rate->sum / rate->count;
    return rate->same || (rate->count == 2 && rate->sides == (SIDE_LEFT | SIDE_RIGHT));
}

static void settle(Work *work, const Rate *stretch, const Rate *pain)
{
    double value;
    Reading *out = work->out;

    if (stretch->count > 0 && rate_value(stretch, &value)) {
        out->intensity = value;
        work->rated_from = stretch->first;
        work_from(work, &out->from_intensity, stretch->first, stretch->end);
    } else if (stretch->count > 0) {
        out->person = true;
    }
    if (pain->count > 0 && rate_value(pain, &value)) {
        out->pain_kind = PAIN_NUMBER;
        out->pain = value;
        work_from(work, &out->from_pain, pain->first, pain->end);
    } else if (pain->count > 0) {
        out->pain_kind = PAIN_SOME;
        out->person = true;
    }
}

typedef struct {
    Rate rates[3];
    const Number *bare[3]; /* without a word, the first three */
    int n;                 /* how many of those */
    bool sided;            /* each of them has a side */
    int unsure;            /* numbers that may be ratings or not */
    const Number *refused; /* the last that is no rating for certain */
    int others; /* numbers among words of their own: they matter where there is no rating */
} Tally;

/* "three and one.", "five one.": a number word that may be an article is none behind another number, an "and" between or
 * not, at the end. */
static bool closes_pair(const Work *work, const Number *number)
{
    int joined = role_ends(work, ROLE_AND, number->first);

    return number_over(work, number->first - joined - 1) != NULL &&
           (number->end >= token_count(work) || token_at(work, number->end)->level >= LEVEL_CLAUSE);
}

/* Whether it is asked about: "4 and 1, is that normal?" tells both, and asks in the clause behind them. So does "D 4 0 call me?". */
static bool in_question(const Work *work, const Number *number)
{
    if (!token_at(work, number->first)->asked) return false;
    if (number_over(work, 1) != NULL && answer_by_letter(work, 0) &&
        (number_behind_letter(work, number) || number_leads(work, number)))
        return false;
    for (int i = number->end; i < token_count(work); i++) {
        if (token_at(work, i)->level == LEVEL_SENTENCE) return true;
        if (token_at(work, i)->level == LEVEL_CLAUSE) return false;
    }
    return true;
}

/* "I think 5?": nothing but words that introduce a rating before it, and the end of the question behind it. */
static bool guessed(const Work *work, const Number *number)
{
    int at = number->first, before;

    if (token_level(work, number->end) != LEVEL_SENTENCE) return false;
    while (at > 0 && token_level(work, at) < LEVEL_CLAUSE) {
        before = role_ends(work, ROLE_NUMBER_BEFORE, at);
        if (before == 0) return false;
        at -= before;
    }
    return at < number->first;
}

/* Whether a number without a word of its own is a rating. */
static bool is_bare_rating(const Work *work, const Number *number)
{
    if (number->placed) return number_behind_known(work, number) && !in_question(work, number);
    if (!number_before_known(work, number) || !number_behind_known(work, number) ||
        !number_among_known(work, number))
        return false;
    if (number->weak && !number_stands_alone(work, number) && !closes_pair(work, number))
        return false;
    return !in_question(work, number) || number_stands_alone(work, number) || guessed(work, number);
}

static void say(Work *work, const Number *number)
{
    static const Role AROUND[] = {ROLE_NUMBER_BEFORE, ROLE_NUMBER_AFTER};
    int before = role_ends(work, AROUND[0], number->first),
        behind = role_starts(work, AROUND[1], number->end);

    for (int t = number->first - before; t < number->end + behind; t++)
        work->said[t] = true;
}

/* "850 steps", "17 at cards": a word that no rating goes with stands right behind it. */
static bool counts_something(const Work *work, const Number *number)
{
    return number->end - number->first == 1 && !number_behind_known(work, number);
}

/* "D 15": a rating on no scale, right behind the word that opens the text. */
static bool opens_off_scale(const Work *work, const Number *number)
{
    return number->kind == NUMBER_OFF && number->whole && number->first == 1 &&
           token_at(work, 1)->digits && role_starts(work, ROLE_YES, 0) > 0;
}

/* "10/10 to your receptionist", "0 out of 10 for the weather": a word that leads to what it rates, and that is nothing known. */
static bool rates_else(const Work *work, const Number *number)
{
    return number->kind == NUMBER_RATING && token_level(work, number->end) == LEVEL_NONE &&
           !number_behind_known(work, number) &&
           (role_starts(work, ROLE_RANGE, number->end) > 0 ||
            role_starts(work, ROLE_COUNT_BEFORE, number->end) > 0);
}

/* "4 0 to the lads": right before a number that counts, but no set. */
static bool before_count(const Work *work, const Number *number)
{
    const Number *next =
        token_level(work, number->end) == LEVEL_NONE ? number_over(work, number->end) : NULL;

    return next != NULL && next->first == number->end && next->kind == NUMBER_COUNT &&
           !next->dose && number->kind == NUMBER_BARE && next->value <= 10 &&
           role_ends(work, ROLE_YES, number->first) == 0 &&
           role_ends(work, ROLE_DID, number->first) == 0;
}

static void count(Work *work, Tally *tally, Number *number)
{
    bool plain = number->label == LABEL_NONE && number->kind != NUMBER_RATING;
    bool odd = number->label != LABEL_NONE && number->kind == NUMBER_BARE &&
               !number_behind_known(work, number) && !number_told_by_word(work, number);

    const Number *before = token_level(work, number->first) == LEVEL_NONE
                               ? number_over(work, number->first - 1)
                               : NULL;
    if (plain && before != NULL && before == tally->refused && opens_off_scale(work, before)) {
        number->label = LABEL_PAIN; /* "D 15 0" */
        work->out->person = true;
    }
    plain &= number->label == LABEL_NONE;
    odd |= plain && before != NULL && before == tally->refused; /* "Jean 3 0" */
    odd |= plain && role_ends(work, ROLE_AND, number->first) == 1 && tally->refused != NULL &&
           number_over(work, number->first - 2) == tally->refused; /* "Did 2 and 3" */
    /* "all 4 0", "won 3 0": a nought right behind a count is the other half of a pair */
    odd |= plain && before != NULL && before->kind == NUMBER_COUNT && number->value == 0;
    odd |= plain && before != NULL && before->kind == NUMBER_COUNT &&
           number_over(work, number->end) == NULL; /* "weighed in at 9 4" */
    odd |= number->label == LABEL_NONE && (rates_else(work, number) || before_count(work, number));
    if (number->kind == NUMBER_OFF || number->kind == NUMBER_UNSURE || odd ||
        (plain && !is_bare_rating(work, number))) {
        bool apart = plain && number->kind != NUMBER_UNSURE && !number_stands_alone(work, number);
        tally->refused = number;
        if (number->kind == NUMBER_OFF && number->label == LABEL_PAIN) {
            work->out->person = true; /* "D 4, pain 50": the stretch stands */
            return;
        }
        tally->others += apart && !number->weak && !counts_something(work, number);
        tally->unsure += !apart && (number->kind != NUMBER_BARE || !number->weak);
        return;
    }
    say(work, number);
    if (number->label == LABEL_PAIN && number_gone_behind(work, number)) return;
    if (number->label != LABEL_NONE) {
        rate_add(&tally->rates[number->label], number);
        return;
    }
    tally->sided &= number->side != SIDE_NONE;
    if (tally->n < 3) tally->bare[tally->n] = number;
    tally->n++;
}

/* "left calf 5, right one at 6": the other side of what has its word. */
static bool other_side(const Rate *rate, const Number *number)
{
    return rate->count == 1 && rate->sides != SIDE_NONE &&
           (rate->sides | number->side) == (SIDE_LEFT | SIDE_RIGHT);
}

/* The order of the question. False where the numbers leave it open which is which. */
static bool place_bare(Work *work, Tally *tally)
{
    Rate *stretch = &tally->rates[LABEL_STRETCH], *pain = &tally->rates[LABEL_PAIN];
    bool pain_told = pain->count > 0 || work->out->pain_kind == PAIN_NUMBER;

    if (tally->n == 0) return true;
    if (work->corrected && tally->n == 2 && tally->bare[0]->value == tally->bare[1]->value)
        tally->n = 1; /* "5. Actually 4. Yes 4." */
    if (tally->n == 2 && number_told_elsewhere(work, tally->bare[0], tally->bare[1])) {
        tally->bare[0] = tally->bare[1];
        tally->n = 1;
    }
    if (tally->n == 2 && tally->bare[0]->value == tally->bare[1]->value && !tally->sided &&
        number_said_again(work, tally->bare[0], tally->bare[1]))
        tally->n = 1;
    if (tally->n == 2 && pain->count == 1 && pain->sum == tally->bare[1]->value &&
        tally->bare[1]->first > pain->end)
        tally->n = 1; /* "six, nought on the pain so 0" */
    if (tally->n == 2 && pain_told && tally->bare[0]->value == tally->bare[1]->value)
        tally->n = 1; /* "3 this morning, 3 tonight, no pain" */
    if (tally->n == 1 && stretch->count == 0 && number_beside_turn(work, tally->bare[0]))
        return false;
    if (tally->n > 2 || (tally->unsure > 0 && tally->n > 1)) return false;
    if (tally->n == 2 && number_in_turn(work, tally->bare[0], tally->bare[1])) return false;
    if (tally->n == 2 && !tally->sided &&
        number_told_by_turns(work, tally->bare[0], tally->bare[1])) {
        work->turned = tally->bare[0]->value != tally->bare[1]->value;
        if (work->turned) return false;
        tally->n = 1; /* "6 this morning, 6 tonight" */
    }
    if (tally->n == 2 && tally->sided && tally->bare[0]->value == 10 && tally->bare[1]->value == 10)
        return false; /* "ten on the left, ten on the right": as likely how often */
    /* "no cramps at all, 5 and 0": the second says the denied pain again */
    if (tally->n == 2 && pain->count == 0 && work->out->pain_kind == PAIN_NUMBER &&
        tally->bare[1]->value == work->out->pain && !tally->sided)
        tally->n = 1;
    if (tally->n == 1 && stretch->count == 0 && pain->count == 0 && tally->unsure == 0 &&
        work->out->pain_kind == PAIN_SOME && number_rates_pain(work, tally->bare[0])) {
        rate_add(pain, tally->bare[0]);
    } else if (tally->n == 2 && tally->sided && stretch->count == 0) {
        rate_add(stretch, tally->bare[0]);
        rate_add(stretch, tally->bare[1]);
    } else if (tally->n == 1 && other_side(stretch, tally->bare[0])) {
        rate_add(stretch, tally->bare[0]);
    } else if (tally->n == 2 && stretch->count == 0 && !pain_told &&
               !number_words_between(work, tally->bare[0]->end, tally->bare[1]->first)) {
        rate_add(stretch, tally->bare[0]);
        rate_add(pain, tally->bare[1]);
        work->out->by_order = true;
    } else if (tally->n == 1 && stretch->count == 0 && tally->bare[0]->value == 0 &&
               tally->refused != NULL && tally->refused->label == LABEL_NONE &&
               tally->refused->first < tally->bare[0]->first) {
        return false; /* "5 gold rings and 0": half of a pair whose other half is unsure */
    } else if (tally->n == 1 && stretch->count == 0 &&
               (tally->unsure == 0 || number_answers_letter(work, tally->bare[0]))) {
        rate_add(stretch, tally->bare[0]);
        work->bare_stretch = tally->bare[0]->kind != NUMBER_RATING;
        work->out->ambiguous_high = tally->bare[0]->value >= READ_BARE_LEAST && pain->count == 0 &&
                                    work->out->pain_kind == PAIN_UNSAID &&
                                    mark_first(work, ROLE_STRETCH_LABEL) < 0;
    } else if (tally->n == 1 && stretch->count > 0 && !pain_told &&
               work->out->pain_kind == PAIN_UNSAID) {
        const Number *bare = tally->bare[0];
        if (bare->first < stretch->first && bare->value == 10)
            return false; /* "10 each leg, pull 6": as likely how often */
        if (!number_words_between(work, MIN(bare->end, stretch->end),
                                  MAX(bare->first, stretch->first)))
            rate_add(pain, bare); /* else told of something else */
    } else if (tally->n == 1 && stretch->count > 0 && !pain_told && tally->unsure == 0 &&
               number_rates_pain_before(work, tally->bare[0])) {
        rate_add(pain, tally->bare[0]);
    } else {
        return false;
    }
    return true;
}

/* "pain 20": on no scale, and with no other word of pain it says none. */
static void drop_unscaled_pain(Work *work)
{
    bool off = false;

    for (int i = 0; i < (int)work->numbers->len; i++) {
        const Number *number = number_at(work, i);
        off |= number->kind == NUMBER_OFF && number->label == LABEL_PAIN && !number->dropped;
    }
    if (!off || work->out->pain_kind != PAIN_SOME) return;
    for (int m = mark_first(work, ROLE_PAIN); m >= 0; m = mark_at(work, m)->next)
        for (int i = mark_at(work, m)->start; i < mark_at(work, m)->end; i++)
            if (!role_covers(work, ROLE_PAIN_LABEL, i)) return;
    work->out->pain_kind = PAIN_UNSAID;
    g_clear_pointer(&work->out->from_pain, g_free);
}

void rates_read(Work *work)
{
    Tally tally = {.sided = true};

    numbers_drop(work);
    labels_give(work);
    numbers_tell_apart(work);
    numbers_correct(work);
    for (int i = 0; i < (int)work->numbers->len; i++)
        if (number_rateable(number_at(work, i))) count(work, &tally, number_at(work, i));
    bool rated =
        tally.n > 0 || tally.rates[LABEL_STRETCH].count > 0 || tally.rates[LABEL_PAIN].count > 0;
    work->unsure = !place_bare(work, &tally) || tally.unsure > 0 || (tally.others > 0 && !rated) ||
                   (!rated && turns_of_counts(work));
    work->out->person |= work->unsure;
    drop_unscaled_pain(work);
    settle(work, &tally.rates[LABEL_STRETCH], &tally.rates[LABEL_PAIN]);
}
