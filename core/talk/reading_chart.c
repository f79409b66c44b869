/* SPDX-License-Identifier: Apache-2.0 */
/* The grammar of a pack over the tokens of a text, from words up.
 *
 * A mark says that a class holds for a run of tokens. Each new mark sets off the patterns that
 * begin with its symbol; they wait in a queue by pattern, and patterns are sorted so that each
 * comes behind those that make its classes. So one pass over the waiting patterns finds everything,
 * and a text pays only for patterns whose first word it has. Gaps are bounded and the number of
 * marks is, so time is linear in length. */
#include "core/talk/reading_inside.h"

typedef struct {
    int mark; /* that the pattern begins with */
    int next;
} Trigger;

typedef struct {
    Work *work;
    guint64 *waiting; /* bit by pattern */
    int *triggers;    /* by pattern: first of its triggers; valid where its bit is set */
    GArray *pool;     /* of Trigger */
} Chart;

const Mark *mark_at(const Work *work, int i)
{
    return &g_array_index(work->marks, Mark, i);
}

int mark_first(const Work *work, Role role)
{
    return work->of_class[work->rules->role[role]];
}

static bool known_already(const Work *work, Symbol symbol, int start, int end)
{
    for (int i = work->at_start[start]; i >= 0; i = mark_at(work, i)->next_at_start)
        if (mark_at(work, i)->symbol == symbol && mark_at(work, i)->end == end) return true;
    return false;
}

static int append(Work *work, Symbol symbol, int start, int end, guint64 mask)
{
    if (work->marks->len >= work->marks_max || known_already(work, symbol, start, end)) return -1;
    Mark mark = {.symbol = symbol,
                 .start = (guint16)start,
                 .end = (guint16)end,
                 .mask = mask,
                 .next_at_start = work->at_start[start],
                 .next_at_end = work->at_end[end],
                 .next_of_class = work->of_class[symbol]};
    int index = (int)work->marks->len;
    g_array_append_val(work->marks, mark);
    work->at_start[start] = work->at_end[end] = work->of_class[symbol] = index;
    return index;
}

static void add(Chart *chart, Symbol symbol, int start, int end, guint64 mask)
{
    const Entry *entry = rules_entry(chart->work->rules, symbol);
    int index = append(chart->work, symbol, start, end, mask);

    if (index < 0) return;
    for (guint i = 0; i < entry->first->len; i++) {
        guint pattern = g_array_index(entry->first, guint, i);
        guint64 bit = G_GUINT64_CONSTANT(1) << (pattern % 64);
        Trigger trigger = {index,
                           chart->waiting[pattern / 64] & bit ? chart->triggers[pattern] : -1};
        chart->waiting[pattern / 64] |= bit;
        chart->triggers[pattern] = (int)chart->pool->len;
        g_array_append_val(chart->pool, trigger);
    }
    for (guint i = 0; i < entry->alone->len; i++)
        add(chart, g_array_index(entry->alone, Symbol, i), start, end, mask);
}

void chart_add(Work *work, Symbol symbol, int start, int end, guint64 mask)
{
    append(work, symbol, start, end, mask);
}

int role_starts(const Work *work, Role role, int token)
{
    Symbol symbol = work->rules->role[role];
    int longest = 0;

    if (token < 0 || token >= token_count(work)) return 0;
    for (int i = work->at_start[token]; i >= 0; i = mark_at(work, i)->next_at_start)
        if (mark_at(work, i)->symbol == symbol)
            longest = MAX(longest, mark_at(work, i)->end - mark_at(work, i)->start);
    return longest;
}

int role_ends(const Work *work, Role role, int end)
{
    Symbol symbol = work->rules->role[role];
    int longest = 0;

    if (end < 0 || end > token_count(work)) return 0;
    for (int i = work->at_end[end]; i >= 0; i = mark_at(work, i)->next_at_end)
        if (mark_at(work, i)->symbol == symbol)
            longest = MAX(longest, mark_at(work, i)->end - mark_at(work, i)->start);
    return longest;
}

/* Whether a clause or the whole text begins at a token, words that may stand before it aside. */
static bool begins(const Work *work, Edge edge, int start)
{
    while (start > 0) {
        if (edge == EDGE_CLAUSE && token_at(work, start)->level >= LEVEL_CLAUSE) return true;
        int lead = role_ends(work, ROLE_LEAD, start);
        if (lead == 0) return false;
        start -= lead;
    }
    return true;
}

static bool ends(const Work *work, Edge edge, int end)
{
    int count = token_count(work);

    while (end < count) {
        if (edge == EDGE_CLAUSE && token_at(work, end)->level >= LEVEL_CLAUSE) return true;
        int tail = role_starts(work, ROLE_TAIL, end);
        if (tail == 0) return false;
        end += tail;
    }
    return true;
}

/* Matches elements k and on from token `at`; adds the class where the last one holds. mask: tokens
 * named so far. */
static bool match(Chart *chart, const Pattern *pattern, int k, int start, int at, guint64 mask)
{
    Work *work = chart->work;

    if (k == pattern->n) {
        if (pattern->end != EDGE_NONE && !ends(work, pattern->end, at)) return false;
        add(chart, pattern->class, start, at, mask);
        return true;
    }
    const Element *element = &pattern->elements[k];
    for (int gap = 0; gap <= element->gap; gap++) {
        int here = at + gap;
        if (here >= token_count(work) || here - start >= PATTERN_REACH) return false;
        Level level = token_at(work, here)->level;
        if (level == LEVEL_SENTENCE || (level == LEVEL_CLAUSE && !element->far)) return false;
        if (gap > 0 && role_starts(work, ROLE_BUT, here - 1) > 0) return false;
        bool found = false;
        for (int i = work->at_start[here]; i >= 0; i = mark_at(work, i)->next_at_start) {
            Mark part = *mark_at(work, i);
            if (part.symbol == element->symbol && part.end - start <= 63)
                found |= match(chart, pattern, k + 1, start, part.end,
                               mask | (part.mask << (here - start)));
        }
        if (found) return true;
    }
    return false;
}

static void run(Chart *chart, guint index)
{
    const Pattern *pattern = &g_array_index(chart->work->rules->patterns, Pattern, index);

    for (int t = chart->triggers[index]; t >= 0; t = g_array_index(chart->pool, Trigger, t).next) {
        Mark first = *mark_at(chart->work, g_array_index(chart->pool, Trigger, t).mark);
        if (pattern->start != EDGE_NONE && !begins(chart->work, pattern->start, first.start))
            continue;
        match(chart, pattern, 1, first.start, first.end, first.mask);
    }
}

static void add_tokens(Chart *chart)
{
    Work *work = chart->work;

    for (int i = 0; i < token_count(work); i++) {
        const Token *token = token_at(work, i);
        if (token->word != 0) add(chart, token->word, i, i + 1, 1);
        if (token->stem != 0) add(chart, token->stem, i, i + 1, 1);
    }
    for (guint i = 0; i < work->numbers->len; i++) {
        const Number *number = number_at(work, (int)i);
        int length = MIN(number->end - number->first, 63);
        add(chart, work->rules->number, number->first, number->end,
            (G_GUINT64_CONSTANT(1) << length) - 1);
    }
}

static bool names(const Mark *mark, int token)
{
    return token - mark->start < 64 && (mark->mask >> (token - mark->start) & 1) != 0;
}

bool role_covers(const Work *work, Role role, int token)
{
    return (work->covers[token].bits[role / 64] >> (role % 64) & 1) != 0;
}

bool role_touches(const Work *work, Role role, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++)
        if (names(mark, i) && role_covers(work, role, i)) return true;
    return false;
}

void mark_say(Work *work, const Mark *mark)
{
    for (int i = mark->start; i < mark->end; i++)
        if (names(mark, i)) work->said[i] = true;
}

static void cover(Work *work, Role role)
{
    for (int i = mark_first(work, role); i >= 0; i = mark_at(work, i)->next_of_class) {
        const Mark *mark = mark_at(work, i);
        if (role > ROLE_THANKS && role_touches(work, ROLE_IDIOM, mark)) continue;
        for (int t = mark->start; t < mark->end; t++)
            if (names(mark, t))
                work->covers[t].bits[role / 64] |= G_GUINT64_CONSTANT(1) << (role % 64);
    }
}

/* Notes by token which roles name it, so that asking costs nothing later. What a figure of speech
 * touches does not count. */
static void cover_all(Work *work)
{
    for (int role = 0; role < ROLE_COUNT; role++)
        cover(work, (Role)role);
}

void chart_make(Work *work)
{
    guint patterns = work->rules->patterns->len, blocks = patterns / 64 + 1;
    Chart chart = {.work = work,
                   .waiting = g_new0(guint64, blocks),
                   .triggers = g_new(int, patterns + 1),
                   .pool = g_array_new(FALSE, FALSE, sizeof(Trigger))};

    add_tokens(&chart);
    for (guint block = 0; block < blocks; block++)
        while (chart.waiting[block] != 0) {
            int bit = __builtin_ctzll(chart.waiting[block]);
            chart.waiting[block] &= chart.waiting[block] - 1;
            run(&chart, block * 64 + (guint)bit);
        }
    cover_all(work);
    g_free(chart.waiting);
    g_free(chart.triggers);
    g_array_unref(chart.pool);
}
