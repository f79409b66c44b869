/* SPDX-License-Identifier: Apache-2.0 */
/* Which number stands with which word.
 *
 * A number belongs to a word for stretch or pain in its own segment, that is between commas, "and" and the like. In a
 * segment of several, words stand either before their numbers ("stretch 4 pain 2") or behind them ("4 stretch 2 pain"). */
#include "core/talk/reading_inside.h"

typedef struct {
    int token;
    int end;
    int label;  /* of a word, 0 for a number */
    int number; /* index of a number, -1 for a word */
    bool some;  /* a word that tells pain without a number: "very little pain" */
    bool used;
} Item;

/* "1 (pain) and 5 (stretch)": what stands between brackets right behind a number is its word. */
static bool bracketed(const Work *work, int token)
{
    return token_at(work, token)->before == '(' && token_level(work, token) < LEVEL_SENTENCE &&
           number_over(work, token - 1) != NULL;
}

/* "Strength: 4/10 Pain: 0/10": a colon between a word and its number. */
static bool introduced(const Work *work, int token)
{
    return token_at(work, token)->before == ':' && token_level(work, token) < LEVEL_SENTENCE &&
           number_over(work, token) != NULL &&
           (role_ends(work, ROLE_PAIN_LABEL, token) > 0 ||
            role_ends(work, ROLE_STRETCH_LABEL, token) > 0);
}

static bool breaks(const Work *work, int token)
{
    const Number *over = number_over(work, token);

    if (over != NULL && over->first < token) return false; /* "four and a half pain" */
    if (bracketed(work, token) || introduced(work, token)) return false;
    return token_at(work, token)->level >= LEVEL_CLAUSE || role_starts(work, ROLE_AND, token) > 0 ||
           role_starts(work, ROLE_BUT, token) > 0;
}

/* "4 the soreness has gone": a pain that is over, with no number within that tells how strong it was. */
static bool gone(const Work *work, int token)
{
    int length = role_starts(work, ROLE_PAIN_GONE, token);

    for (int i = token; i < token + length; i++)
        if (number_over(work, i) != NULL && !number_over(work, i)->dropped) return false;
    return length > 0;
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
    return !gone(work, token) && !scope_of(work, &mark).denied;
}

/* A number word that is as often an article counts only where nothing follows that it may belong to. */
static bool weak_elsewhere(const Work *work, const Number *number)
{
    static const Role BEHIND[] = {ROLE_AND,        ROLE_BUT,           ROLE_TAIL,
                                  ROLE_PAIN_LABEL, ROLE_STRETCH_LABEL, ROLE_NUMBER_LABEL};
    bool led = number->first > 0 && token_at(work, number->first - 1)->word != 0 &&
               token_level(work, number->first) == LEVEL_NONE &&
               role_ends(work, ROLE_AND, number->first) == 0 &&
               role_ends(work, ROLE_PAIN_LABEL, number->first) == 0 &&
               role_ends(work, ROLE_STRETCH_LABEL, number->first) == 0;

    if (!number->weak || number->kind != NUMBER_BARE || number->end >= token_count(work) ||
        token_at(work, number->end)->level >= LEVEL_CLAUSE)
        return false;
    /* "duele una pantorrilla": nor is one between a word for pain and a part of the body, no number behind it. */
    if (role_ends(work, ROLE_PAIN_LABEL, number->first) > 0 &&
        role_starts(work, ROLE_STRETCH_LABEL, number->end) > 0 &&
        number_over(work, number->end + role_starts(work, ROLE_STRETCH_LABEL, number->end)) == NULL)
        return true;
    /* "like a sting": an article between two words is none, though the second is a word for pain. */
    if (led && role_starts(work, ROLE_PAIN_LABEL, number->end) > 0) return true;
    for (size_t r = 0; r < G_N_ELEMENTS(BEHIND); r++)
        if (role_starts(work, BEHIND[r], number->end) > 0) return false;
    return true;
}

/* The numbers and words of one segment, in order, in place of what is in items. */
static void items_of(const Work *work, int from, int to, int *number, GArray *items)
{
    g_array_set_size(items, 0);
    for (int i = from; i < to;) {
        while (*number < (int)work->numbers->len && number_at(work, *number)->first < i)
            (*number)++;
        if (*number < (int)work->numbers->len && number_at(work, *number)->first == i) {
            Item item = {.token = i, .end = number_at(work, *number)->end, .number = *number};
            if (number_rateable(number_at(work, *number)) &&
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
        bool weak = number_at(work, item->number)->weak &&
                    role_starts(work, ROLE_NUMBER_LABEL, item->end) == 0;
        /* "4 0 now that was a stretch": two that open the text have the order of the question */
        bool paired = apart > 0 && number_leads(work, number_at(work, item->number)) &&
                      role_starts(work, ROLE_NUMBER_LABEL, item->end) == 0;
        bool unfit = behind && (word->some || weak || paired);
        if (found == NULL && !word->used && !unfit && apart <= FAR) found = word;
    }
    return found;
}

/* Gives each number of a segment its word. behind: words stand behind their numbers. */
static void give_labels(Work *work, GArray *items, bool behind)
{
    for (guint i = 0; i < items->len; i++) {
        if (item_at(items, i)->number < 0 ||
            number_at(work, item_at(items, i)->number)->label != LABEL_NONE)
            continue;
        Item *word = word_of(work, items, i, behind);
        if (word == NULL) continue;
        word->used = true;
        number_at(work, item_at(items, i)->number)->label = word->label;
        for (int t = word->token; t < word->end; t++)
            work->said[t] = true;
    }
}

/* "a two for pain the stretching was five", "0P": what a number rates stands right behind it. */
static void give_named(Work *work, GArray *items)
{
    for (guint i = 0; i + 1 < items->len; i++) {
        const Item *number = item_at(items, i);
        Item *word = item_at(items, i + 1);
        int named = number->number >= 0 ? role_starts(work, ROLE_NUMBER_LABEL, number->end) : 0;
        if (named == 0 && number->number >= 0 && word->token == number->end &&
            token_at(work, word->token)->from == token_at(work, word->token - 1)->to &&
            (word->end >= token_count(work) || token_at(work, word->end)->spaced))
            named = 1;
        if (named == 0 || word->number >= 0 || word->token >= number->end + named || word->some)
            continue;
        word->used = true;
        number_at(work, number->number)->label = word->label;
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

/* A word of a side. "L 3 R 5": one that is a side only beside the other is that side, and not the other one's. */
static bool sides_with(const Work *work, Role role, Role other, int token)
{
    return role_covers(work, role, token) && role_starts(work, other, token) != 1;
}

static int side_in(const Work *work, int from, int to)
{
    int side = SIDE_NONE;

    for (int i = from; i < to; i++) {
        if (sides_with(work, ROLE_LEFT, ROLE_RIGHT, i)) side |= SIDE_LEFT;
        if (sides_with(work, ROLE_RIGHT, ROLE_LEFT, i)) side |= SIDE_RIGHT;
    }
    return side == (SIDE_LEFT | SIDE_RIGHT) ? SIDE_NONE : side;
}

/* Sides work like words: before or behind the number, nearest first. */
static void give_sides(Work *work, const GArray *items, int from, int to)
{
    int numbers, words, last = SIDE_NONE;

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
            int first = number_at(work, only_number(items))->first;
            bool first_before = side_in(work, from, first) != SIDE_NONE;
            Number *number = number_at(work, item_at(items, i)->number);
            number->side = first_before ? before : behind;
            if (first_before && before == SIDE_NONE && number->label == LABEL_PAIN)
                number->side = last; /* "left 3 pain 0, right 5 pain 2" */
            last = number->side;
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
        if (i > 0 && item_at(items, i)->label != label) return LABEL_NONE;
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

/* "pain 1 on the left and 3 on the right": the other side of what stands before the "and". */
static void carry_side(Work *work, int index, int from)
{
    Number *number = number_at(work, index);
    const Number *before = index > 0 ? number_at(work, index - 1) : NULL;

    if (before == NULL || number->label != LABEL_NONE || role_starts(work, ROLE_AND, from) == 0)
        return;
    if (number->side != SIDE_NONE && before->side != SIDE_NONE && number->side != before->side)
        number->label = before->label;
}

/* "left one tighter, more like 6": the side stands in a clause of its own, right before that of the number. */
static void carry_clause_side(const Work *work, int index, int side)
{
    Number *number = number_at(work, index);

    if (number->side == SIDE_NONE && side != (SIDE_LEFT | SIDE_RIGHT)) number->side = side;
}

/* "stretch L 4 R 5 pain L 0 R 1": the other side right behind a number has its word. */
static void carry_to_other_side(const Work *work)
{
    static const Role BETWEEN[] = {ROLE_LEFT, ROLE_RIGHT, ROLE_AND, ROLE_NUMBER_BEFORE};

    for (int i = 1; i < (int)work->numbers->len; i++) {
        const Number *before = number_at(work, i - 1);
        Number *number = number_at(work, i);
        bool apart = number->label != LABEL_NONE || before->label == LABEL_NONE ||
                     number->kind != NUMBER_BARE || before->dropped ||
                     (number->side | before->side) != (SIDE_LEFT | SIDE_RIGHT) ||
                     number->side == before->side || number->first == before->end;
        for (int t = before->end; t < number->first && !apart; t++) {
            apart = !role_covers_any(work, BETWEEN, G_N_ELEMENTS(BETWEEN), t) ||
                    token_level(work, t) == LEVEL_SENTENCE;
        }
        const Number *next = i + 1 < (int)work->numbers->len ? number_at(work, i + 1) : number;
        apart |= next != number && next->label == before->label && next->side == number->side;
        if (!apart) number->label = before->label;
    }
}

/* The word of a segment whose only number is dropped. */
static int of_dropped(const Work *work, const GArray *items, int from, int to)
{
    const Item *word = items->len == 1 ? item_at(items, 0) : NULL;
    const Number *over;

    if (word == NULL || word->number >= 0 || token_level(work, to) == LEVEL_SENTENCE)
        return LABEL_NONE;
    for (int i = from; i < to; i++)
        if ((over = number_over(work, i)) != NULL &&
            (over->dropped || role_starts(work, ROLE_NUMBER_PLACE, over->end) > 0) &&
            (over->kind == NUMBER_BARE || over->kind == NUMBER_COUNT) && !over->dose)
            return word->label;
    return LABEL_NONE;
}

/* "The pain was 6 on Monday, it's 2 now": the word of a number of another day is that of today's behind it. */
static int of_other_day(const Work *work, const GArray *items, int from, int to)
{
    int label = of_dropped(work, items, from, to);

    if (label == LABEL_NONE) return LABEL_NONE;
    for (int t = to; t == to || (t < token_count(work) && !breaks(work, t)); t++)
        if (role_covers(work, ROLE_TODAY, t)) return label;
    return LABEL_NONE;
}

/* "mine's a 1": the sender, and nothing but words that introduce a number up to one. */
static bool own_number(const Work *work, int token)
{
    int at = token + 1, length;

    if (!role_covers(work, ROLE_SELF, token)) return false;
    while (token_level(work, at) == LEVEL_NONE && number_over(work, at) == NULL &&
           (length = role_starts(work, ROLE_NUMBER_BEFORE, at)) > 0)
        at += length;
    return token_level(work, at) == LEVEL_NONE && number_over(work, at) != NULL;
}

/* "Jean's pain is a 9 with her hip but mine's a 1": the word of somebody else's number is that of the client's own later in
 * the sentence. */
static void take_from_theirs(Work *work, Number *number, int from, int label)
{
    if (label == LABEL_NONE || number->label != LABEL_NONE) return;
    for (int t = from; t < number->first; t++)
        if (own_number(work, t)) number->label = label;
}

/* "it hurt a bit, did them 3": the number behind a word of the session rates that, and not the clause before it. */
static bool told_anew(const Work *work, int from, int to)
{
    for (int i = from; i < to; i++)
        if (role_covers(work, ROLE_DID, i)) return true;
    return false;
}

void labels_give(Work *work)
{
    int count = token_count(work), number = 0, carried = LABEL_NONE, side = SIDE_NONE;
    int theirs = LABEL_NONE;
    bool of_day = false; /* what is carried is that of a number of another day, or hour */
    if (work->numbers->len == 0) return;
    g_autoptr(GArray) items = g_array_sized_new(FALSE, FALSE, sizeof(Item), 16);

    for (int from = 0; from < count;) {
        int to = from + 1;
        while (to < count && !breaks(work, to))
            to++;
        items_of(work, from, to, &number, items);
        int numbers, words;
        count_items(items, &numbers, &words);
        if (numbers > 0 && words > 0) {
            bool first_is_word = item_at(items, 0)->number < 0;
            bool last_is_word = item_at(items, items->len - 1)->number < 0;
            if (first_is_word == last_is_word) give_named(work, items);
            give_labels(work, items, !first_is_word && last_is_word);
            if (numbers == 1 && number_at(work, only_number(items))->label == LABEL_NONE)
                give_labels(work, items, first_is_word);
        } else if (numbers == 1 && words == 0 && carried != LABEL_NONE &&
                   !told_anew(work, from, item_at(items, 0)->token)) {
            number_at(work, item_at(items, 0)->number)->label = carried;
        }
        if (numbers == 1 && words == 0)
            take_from_theirs(work, number_at(work, only_number(items)), from, theirs);
        theirs = MAX(of_dropped(work, items, from, to), theirs);
        if (token_level(work, to) == LEVEL_SENTENCE) theirs = LABEL_NONE;
        give_sides(work, items, from, to);
        if (numbers == 1 && words == 0) carry_side(work, only_number(items), from);
        if (numbers == 1) carry_clause_side(work, only_number(items), side);
        side = numbers == 0 ? side_in(work, from, to) | side : SIDE_NONE;
        if (token_level(work, to) == LEVEL_SENTENCE) side = SIDE_NONE;
        if (!(of_day && items->len == 0 && number_over(work, from) != NULL)) {
            carried = numbers == 0 ? only_word(work, items, from, to) : LABEL_NONE;
            of_day = carried == LABEL_NONE;
            if (of_day) carried = of_other_day(work, items, from, to);
            of_day &= carried != LABEL_NONE;
        }
        from = to;
    }
    carry_to_other_side(work);
}

ReadAnswer label_answer(const Work *work)
{
    static const Role ASIDE[] = {ROLE_FILL,      ROLE_LEAD,          ROLE_TAIL,
                                 ROLE_THANKS,    ROLE_NUMBER_BEFORE, ROLE_NUMBER_AFTER,
                                 ROLE_PAIN_FREE, ROLE_NOT,           ROLE_NOT_AFTER};
    bool stretch = false, pain = false;

    for (int i = 0; i < token_count(work); i++) {
        bool aside =
            number_over(work, i) != NULL || role_covers_any(work, ASIDE, G_N_ELEMENTS(ASIDE), i);
        if (role_covers(work, ROLE_STRETCH_LABEL, i))
            stretch = true;
        else if (role_covers(work, ROLE_PAIN_LABEL, i) && !role_covers(work, ROLE_PAIN_FREE, i))
            pain = true;
        else if (!aside)
            return ANSWER_NONE;
    }
    if (stretch == pain) return ANSWER_NONE;
    return stretch ? ANSWER_STRETCH : ANSWER_PAIN;
}
