/* SPDX-License-Identifier: Apache-2.0 */
/* Which number is the stretch and which the pain.
 *
 * A number belongs to a word for stretch or pain in its own segment, that is between commas, "and"
 * and the like. In a segment of several, words stand either before their numbers ("stretch 4 pain
 * 2") or behind them ("4 stretch 2 pain"). A number without such a word is a rating only in a place
 * where every word around it is known to leave it one; then the order of the question holds:
 * stretch, then pain. */
#include "core/talk/reading_inside.h"

enum { LABEL_NONE, LABEL_STRETCH, LABEL_PAIN };
enum { SIDE_NONE, SIDE_LEFT, SIDE_RIGHT };

typedef struct {
    int token;
    int end;
    int label;  /* of a word, 0 for a number */
    int number; /* index of a number, -1 for a word */
    bool some;  /* a word that tells pain without a number: "very little pain" */
    bool used;
} Item;

static bool rateable(const Number *number)
{
    return !number->dropped && number->kind != NUMBER_COUNT;
}

static Mark mark_over(const Number *number)
{
    return (Mark){.start = (guint16)number->first,
                  .end = (guint16)number->end,
                  .mask = number->end - number->first >= 64
                              ? ~G_GUINT64_CONSTANT(0)
                              : (G_GUINT64_CONSTANT(1) << (number->end - number->first)) - 1};
}

/* Drops what is another's, another day's, or part of some other phrase. */
static void drop_foreign(Work *work)
{
    static const Role TAKEN[] = {ROLE_LONG_AGO, ROLE_OTHER_DAY, ROLE_AWAY, ROLE_TODAY,
                                 ROLE_WHOLE,    ROLE_SUSPEND,   ROLE_PAUSE};

    for (int i = 0; i < (int)work->numbers->len; i++) {
        Number *number = number_at(work, i);
        Mark mark = mark_over(number);
        Scope scope = scope_of(work, &mark);
        number->dropped = scope.idiom || scope.other || scope.other_day || scope.hypothetical;
        if (number->kind == NUMBER_BARE && token_at(work, number->first)->level == LEVEL_NONE &&
            role_ends(work, ROLE_NOT, number->first) > 0)
            number->dropped = true; /* "3 not 5" */
        for (size_t r = 0; r < G_N_ELEMENTS(TAKEN); r++)
            number->dropped |= role_touches(work, TAKEN[r], &mark);
        if (number->kind == NUMBER_BARE && (role_covers(work, ROLE_PARTLY, number->first) ||
                                            role_covers(work, ROLE_DID, number->first)))
            number->dropped = true;
        if (number->dropped)
            for (int t = number->first; t < number->end; t++)
                work->said[t] = work->said[t] || scope.other_day;
    }
}

static bool breaks(const Work *work, int token)
{
    return token_at(work, token)->level >= LEVEL_CLAUSE || role_starts(work, ROLE_AND, token) > 0 ||
           role_starts(work, ROLE_BUT, token) > 0;
}

/* A pain word that is denied or says "some" on its own terms labels no number. */
static bool label_free(const Work *work, int token, int length)
{
    Mark mark = {.start = (guint16)token,
                 .end = (guint16)(token + length),
                 .mask =
                     length >= 64 ? ~G_GUINT64_CONSTANT(0) : (G_GUINT64_CONSTANT(1) << length) - 1};

    if (role_touches(work, ROLE_PAIN_FREE, &mark) || role_touches(work, ROLE_IDIOM, &mark))
        return false;
    return !scope_of(work, &mark).denied;
}

/* A number word that is as often an article counts only where nothing follows that it may belong to. */
static bool weak_elsewhere(const Work *work, const Number *number)
{
    static const Role BEHIND[] = {ROLE_AND, ROLE_BUT, ROLE_TAIL, ROLE_PAIN_LABEL,
                                  ROLE_STRETCH_LABEL};

    if (!number->weak || number->kind != NUMBER_BARE || number->end >= token_count(work) ||
        token_at(work, number->end)->level >= LEVEL_CLAUSE)
        return false;
    for (size_t r = 0; r < G_N_ELEMENTS(BEHIND); r++)
        if (role_starts(work, BEHIND[r], number->end) > 0) return false;
    return true;
}

/* The numbers and words of one segment, in order. */
static GArray *items_of(const Work *work, int from, int to, int *number)
{
    GArray *items = g_array_new(FALSE, FALSE, sizeof(Item));

    for (int i = from; i < to;) {
        while (*number < (int)work->numbers->len && number_at(work, *number)->first < i)
            (*number)++;
        if (*number < (int)work->numbers->len && number_at(work, *number)->first == i) {
            Item item = {.token = i, .end = number_at(work, *number)->end, .number = *number};
            if (rateable(number_at(work, *number)) &&
                !weak_elsewhere(work, number_at(work, *number)))
                g_array_append_val(items, item);
            i = item.end;
            continue;
        }
        int pain = role_starts(work, ROLE_PAIN_LABEL, i),
            stretch = role_starts(work, ROLE_STRETCH_LABEL, i);
        int length = MAX(pain, stretch);
        if (length > 0 && (pain < stretch || label_free(work, i, length))) {
            Item item = {.token = i,
                         .end = i + length,
                         .label = pain >= stretch ? LABEL_PAIN : LABEL_STRETCH,
                         .number = -1};
            Mark word = {.start = (guint16)i, .end = (guint16)(i + length), .mask = 1};
            item.some = item.label == LABEL_PAIN && role_touches(work, ROLE_PAIN_SOME, &word);
            g_array_append_val(items, item);
        }
        i += MAX(length, 1);
    }
    return items;
}

static Item *item_at(const GArray *items, guint i)
{
    return &g_array_index(items, Item, i);
}

/* The word of a number, in one direction from it and not past another number; NULL for none. */
static Item *word_of(const Work *work, const GArray *items, guint i, bool behind)
{
    enum { FAR = 7 };
    const Item *item = item_at(items, i);
    Item *found = NULL;

    for (guint k = behind ? i + 1 : i - 1; k < items->len && item_at(items, k)->number < 0;
         k += behind ? 1u : -1u) {
        Item *word = item_at(items, k);
        int apart = behind ? word->token - item->end : item->token - word->end;
        bool unfit = behind && (word->some || number_at(work, item->number)->weak);
        if (found == NULL && !word->used && !unfit && apart <= FAR) found = word;
    }
    return found;
}

/* Gives each number of a segment its word. behind: words stand behind their numbers. */
static void give_labels(Work *work, GArray *items, bool behind)
{
    for (guint i = 0; i < items->len; i++) {
        if (item_at(items, i)->number < 0) continue;
        Item *word = word_of(work, items, i, behind);
        if (word == NULL) continue;
        word->used = true;
        number_at(work, item_at(items, i)->number)->label = word->label;
        for (int t = word->token; t < word->end; t++)
            work->said[t] = true;
    }
}

static void count_items(const GArray *items, int *numbers, int *words)
{
    *numbers = *words = 0;
    for (guint i = 0; i < items->len; i++) {
        *numbers += item_at(items, i)->number >= 0;
        *words += item_at(items, i)->number < 0;
    }
}

static int only_number(const GArray *items)
{
    for (guint i = 0; i < items->len; i++)
        if (item_at(items, i)->number >= 0) return item_at(items, i)->number;
    return -1;
}

static int side_in(const Work *work, int from, int to)
{
    int side = SIDE_NONE;

    for (int i = from; i < to; i++) {
        if (role_covers(work, ROLE_LEFT, i)) side |= SIDE_LEFT;
        if (role_covers(work, ROLE_RIGHT, i)) side |= SIDE_RIGHT;
    }
    return side == (SIDE_LEFT | SIDE_RIGHT) ? SIDE_NONE : side;
}

/* Sides work like words: before or behind the number, nearest first. */
static void give_sides(Work *work, const GArray *items, int from, int to)
{
    int numbers, words;

    count_items(items, &numbers, &words);
    for (guint i = 0; i < items->len; i++) {
        if (item_at(items, i)->number < 0) continue;
        int left = from, right = to;
        if (numbers > 1) {
            for (guint k = 0; k < i; k++)
                if (item_at(items, k)->number >= 0) left = item_at(items, k)->end;
            for (guint k = items->len; k-- > i + 1;)
                if (item_at(items, k)->number >= 0) right = item_at(items, k)->token;
            int before = side_in(work, left, item_at(items, i)->token);
            int behind = side_in(work, item_at(items, i)->end, right);
            bool first_before = side_in(work, from,
                                        item_at(items, 0)->number >= 0 ? item_at(items, 0)->token
                                                                       : to) != SIDE_NONE;
            number_at(work, item_at(items, i)->number)->side = first_before ? before : behind;
        } else {
            number_at(work, item_at(items, i)->number)->side = side_in(work, left, right);
        }
    }
}

/* Whether the segment says nothing but a word for stretch or pain: "Pain?" before "2". */
static int only_word(const Work *work, const GArray *items, int from, int to)
{
    int label = LABEL_NONE;

    for (guint i = 0; i < items->len; i++) {
        if (item_at(items, i)->number >= 0 || item_at(items, i)->used) return LABEL_NONE;
        label = item_at(items, i)->label;
    }
    for (int i = from; i < to; i++) {
        bool inside = false;
        for (guint k = 0; k < items->len; k++)
            inside |= i >= item_at(items, k)->token && i < item_at(items, k)->end;
        if (!inside && !role_covers(work, ROLE_FILL, i) &&
            !role_covers(work, ROLE_NUMBER_BEFORE, i) && !role_covers(work, ROLE_LEAD, i) &&
            !role_covers(work, ROLE_YES, i) && !role_covers(work, ROLE_DID, i))
            return LABEL_NONE;
    }
    return label;
}

static void label_numbers(Work *work)
{
    int count = token_count(work), number = 0, carried = LABEL_NONE;

    for (int from = 0; from < count;) {
        int to = from + 1;
        while (to < count && !breaks(work, to))
            to++;
        g_autoptr(GArray) items = items_of(work, from, to, &number);
        int numbers, words;
        count_items(items, &numbers, &words);
        if (numbers > 0 && words > 0) {
            bool first_is_word = item_at(items, 0)->number < 0;
            bool last_is_word = item_at(items, items->len - 1)->number < 0;
            give_labels(work, items, !first_is_word && last_is_word);
            if (numbers == 1 && number_at(work, only_number(items))->label == LABEL_NONE)
                give_labels(work, items, first_is_word);
        } else if (numbers == 1 && words == 0 && carried != LABEL_NONE) {
            number_at(work, item_at(items, 0)->number)->label = carried;
        }
        give_sides(work, items, from, to);
        carried = numbers == 0 ? only_word(work, items, from, to) : LABEL_NONE;
        from = to;
    }
}

/* Whether the words next to a number leave it a rating. */
static bool bare_place(const Work *work, const Number *number)
{
    static const Role BEFORE[] = {ROLE_NUMBER_BEFORE, ROLE_LEAD,       ROLE_YES,     ROLE_DID,
                                  ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_CORRECT, ROLE_LEFT,
                                  ROLE_RIGHT,         ROLE_AND,        ROLE_BUT,     ROLE_THANKS,
                                  ROLE_TODAY,         ROLE_NO,         ROLE_PARTLY};
    static const Role BEHIND[] = {ROLE_NUMBER_AFTER,  ROLE_TAIL,       ROLE_YES,       ROLE_DID,
                                  ROLE_STRETCH_LABEL, ROLE_PAIN_LABEL, ROLE_CORRECT,   ROLE_LEFT,
                                  ROLE_RIGHT,         ROLE_AND,        ROLE_BUT,       ROLE_THANKS,
                                  ROLE_TODAY,         ROLE_PAIN_FREE,  ROLE_PAIN_SOME, ROLE_PAIN,
                                  ROLE_NOT,           ROLE_BREAK};
    bool before = number->first == 0 || token_at(work, number->first)->level >= LEVEL_CLAUSE ||
                  token_at(work, number->first)->joint != 0;
    bool behind =
        number->end >= token_count(work) || token_at(work, number->end)->level >= LEVEL_CLAUSE;

    for (size_t r = 0; r < G_N_ELEMENTS(BEFORE) && !before; r++)
        before = role_ends(work, BEFORE[r], number->first) > 0;
    for (size_t r = 0; r < G_N_ELEMENTS(BEHIND) && !behind; r++)
        behind = role_starts(work, BEHIND[r], number->end) > 0;
    for (int i = 0; i < (int)work->numbers->len && (!before || !behind); i++) {
        before |= number_at(work, i)->end == number->first;
        behind |= number_at(work, i)->first == number->end;
    }
    return before && behind;
}

/* Whether a number is a clause by itself: "six, one". */
static bool stands_alone(const Work *work, const Number *number)
{
    return (number->first == 0 || token_at(work, number->first)->level >= LEVEL_CLAUSE) &&
           (number->end >= token_count(work) || token_at(work, number->end)->level >= LEVEL_CLAUSE);
}

/* A correction between two numbers takes away the first of them. */
static void drop_corrected(Work *work)
{
    enum { APART = 7 };

    for (int i = 0; i + 1 < (int)work->numbers->len; i++) {
        Number *a = number_at(work, i), *b = number_at(work, i + 1);
        if (!rateable(a) || !rateable(b) || b->first - a->end > APART) continue;
        for (int t = a->end; t < b->first; t++)
            if (role_starts(work, ROLE_CORRECT, t) > 0) {
                if (b->label == LABEL_NONE) b->label = a->label;
                if (b->label == a->label || a->label == LABEL_NONE) a->dropped = true;
            }
    }
}

typedef struct {
    double sum[2];
    int count;
    int first, end; /* tokens of the last one */
    int sides;
} Rate;

static void rate_add(Rate *rate, const Number *number)
{
    rate->sum[0] += number->value;
    rate->count++;
    rate->first = rate->count == 1 ? number->first : rate->first;
    rate->end = number->end;
    rate->sides |= number->side;
}

/* One value, or the mean of one for each side. False where the numbers do not agree on one. */
static bool rate_value(const Rate *rate, double *value)
{
    *value = rate->sum[0] / rate->count;
    return rate->count == 1 || (rate->count == 2 && rate->sides == (SIDE_LEFT | SIDE_RIGHT));
}

static void settle(Work *work, const Rate *stretch, const Rate *pain)
{
    double value;
    Reading *out = work->out;

    if (stretch->count > 0 && rate_value(stretch, &value)) {
        out->intensity = value;
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

void rates_read(Work *work)
{
    Rate rates[3] = {0};
    int bare[3] = {-1, -1, -1}, n = 0, off = 0;
    bool sides_only = true, worded_pain = work->out->pain_kind != PAIN_UNSAID;

    drop_foreign(work);
    label_numbers(work);
    drop_corrected(work);
    for (int i = 0; i < (int)work->numbers->len; i++) {
        Number *number = number_at(work, i);
        if (!rateable(number)) continue;
        bool explicit = number->label != LABEL_NONE || number->kind == NUMBER_RATING;
        if (number->kind == NUMBER_OFF || number->kind == NUMBER_UNSURE) {
            off++;
            continue;
        }
        if (!explicit &&
            (!bare_place(work, number) || (number->weak && !stands_alone(work, number)))) {
            if (!number->weak) off++;
            continue;
        }
        for (int t = number->first; t < number->end; t++)
            work->said[t] = true;
        if (number->label != LABEL_NONE) {
            rate_add(&rates[number->label], number);
        } else {
            sides_only &= number->side != SIDE_NONE;
            if (n < 3) bare[n] = i;
            n++;
        }
    }
    if (off > 0) work->out->person = true;
    if (n > 0 && sides_only && rates[LABEL_STRETCH].count == 0 && n == 2) {
        rate_add(&rates[LABEL_STRETCH], number_at(work, bare[0]));
        rate_add(&rates[LABEL_STRETCH], number_at(work, bare[1]));
    } else if (n == 1 && rates[LABEL_STRETCH].count == 0) {
        rate_add(&rates[LABEL_STRETCH], number_at(work, bare[0]));
        if (number_at(work, bare[0])->value >= 7 && rates[LABEL_PAIN].count == 0 && !worded_pain &&
            mark_first(work, ROLE_STRETCH_LABEL) < 0)
            work->out->ambiguous_high = true;
    } else if (n == 1 && rates[LABEL_PAIN].count == 0 && !worded_pain) {
        rate_add(&rates[LABEL_PAIN], number_at(work, bare[0]));
    } else if (n == 2 && rates[LABEL_STRETCH].count == 0 && rates[LABEL_PAIN].count == 0 &&
               (!worded_pain || work->out->pain_kind == PAIN_SOME)) {
        rate_add(&rates[LABEL_STRETCH], number_at(work, bare[0]));
        rate_add(&rates[LABEL_PAIN], number_at(work, bare[1]));
    } else if (n > 0) {
        work->out->person = true;
    }
    settle(work, &rates[LABEL_STRETCH], &rates[LABEL_PAIN]);
}
