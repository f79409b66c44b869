/* SPDX-License-Identifier: Apache-2.0 */
/* The grammar of a pack over the tokens of a text, from words up, a sentence at a time.
 *
 * A mark says that a class holds for a run of tokens. Where a symbol first occurs in the sentence, it wakes the rows that are
 * anchored to it, but for those that need a word which the sentence lacks. Rows stand in an order in which each comes behind
 * those that make its classes, so one pass over those awake finds everything, and a sentence pays only for rows whose rarest
 * part it has. The marks of single words are made only for what a row that is awake asks for. A very long sentence is taken in
 * pieces; gaps are bounded, and so is the number of marks: time is linear in length. */
#include "core/talk/reading_chart.h"

enum { PIECE = 240 }; /* tokens */

static inline bool has(const guint32 *set, Symbol symbol)
{
    return (set[symbol / 32] >> (symbol % 32) & 1) != 0;
}

static inline void include(guint32 *set, Symbol symbol)
{
    set[symbol / 32] |= 1u << (symbol % 32);
}

static inline bool is_present(const Chart *chart, Symbol symbol)
{
    return has(chart->present, symbol);
}

/* The last mark of a symbol in the sentence, -1 for none; go on by before. */
static inline int last_mark(const Chart *chart, Symbol symbol)
{
    return has(chart->made, symbol) ? chart->marks_of[symbol] : -1;
}

static void wake(Chart *chart, Symbol symbol)
{
    const guint32 *at = &chart->rules->anchor_at[symbol];

    for (guint32 i = at[0]; i < at[1]; i++) {
        const Anchor anchor = chart->rules->anchors[i];
        if (!is_present(chart, anchor.need)) continue;
        chart->waiting[anchor.row / 64] |= G_GUINT64_CONSTANT(1) << (anchor.row % 64);
        chart->blocks[anchor.row / 4096] |= G_GUINT64_CONSTANT(1) << (anchor.row / 64 % 64);
    }
}

/* Wakes the rows of what has appeared. */
static void settle(Chart *chart)
{
    for (int i = 0; i < chart->n_fresh; i++)
        wake(chart, chart->fresh[i]);
    chart->n_fresh = 0;
    chart->settled = true;
}

/* A sign that two patterns make of other words is two marks: "passed water without feeling it" holds where one of them
 * names the "without". */
static bool known_already(const Chart *chart, Symbol symbol, int start, int end, guint64 mask)
{
    const Mark *marks = chart->work->marks;
    int role = chart->entries[symbol].role;
    bool sign = role >= ROLE_CRISIS && role <= ROLE_FALL;

    for (int i = last_mark(chart, symbol); i >= 0; i = chart->work->marks[i].before)
        if (marks[i].start == start && marks[i].end == end && (!sign || marks[i].mask == mask))
            return true;
    return false;
}

static void note_role(Work *work, int index, int role)
{
    Mark *mark = &work->marks[index];
    guint8 length = (guint8)(mark->end - mark->start);
    guint8 *from = &work->starts[mark->start * ROLE_COUNT + role];
    guint8 *to = &work->ends[mark->end * ROLE_COUNT + role];

    mark->next = work->first_of_role[role];
    work->first_of_role[role] = index;
    *from = MAX(*from, length);
    *to = MAX(*to, length);
}

static bool grow(Chart *chart)
{
    Work *work = chart->work;

    if (work->n_marks == work->marks_max) return false;
    if (work->n_marks == work->marks_room) {
        work->marks_room = MIN(work->marks_room * 2, work->marks_max);
        work->marks = g_renew(Mark, work->marks, work->marks_room);
    }
    return true;
}

/* A mark of a class that is present and not known to hold there. */
static bool put_new(Chart *chart, Symbol symbol, int start, int end, guint64 mask)
{
    Work *work = chart->work;
    int index = work->n_marks, role = chart->entries[symbol].role;

    if (!grow(chart)) return false;
    work->marks[index] = (Mark){.symbol = symbol,
                                .start = (guint16)start,
                                .end = (guint16)end,
                                .mask = mask,
                                .next = -1,
                                .before = last_mark(chart, symbol)};
    work->n_marks++;
    if (role >= 0) note_role(work, index, role);
    chart->marks_of[symbol] = index;
    include(chart->made, symbol);
    return true;
}

/* False where the class is known to hold there already. */
static bool put(Chart *chart, Symbol symbol, int start, int end, guint64 mask)
{
    if (is_present(chart, symbol)) {
        if (known_already(chart, symbol, start, end, mask)) return false;
    } else {
        include(chart->present, symbol);
        if (chart->settled)
            wake(chart, symbol);
        else
            chart->fresh[chart->n_fresh++] = symbol;
    }
    return put_new(chart, symbol, start, end, mask);
}

static void add(Chart *chart, Symbol symbol, int start, int end, guint64 mask)
{
    const Entry *entry = &chart->entries[symbol];

    if (!put(chart, symbol, start, end, mask)) return;
    for (guint32 i = entry->alone; i < entry->alone_end; i++)
        put(chart, chart->rules->alone[i], start, end, mask);
}

/* --- matching */

static bool is_one(const Chart *chart, Symbol word, Symbol class)
{
    const Entry *entry = &chart->entries[word];
    guint32 low = entry->alone, high = entry->alone_end;

    if (word == class || word == 0) return word == class;
    if (entry->map != 0) return has(chart->rules->maps + entry->map, class);
    while (low < high) {
        guint32 middle = (low + high) / 2;
        if (chart->rules->alone[middle] < class)
            low = middle + 1;
        else
            high = middle;
    }
    return low < entry->alone_end && chart->rules->alone[low] == class;
}

/* Whether a token by itself is a word or class. */
static bool token_is(const Chart *chart, int i, Symbol symbol)
{
    if (!traits_have(&chart->traits[i], symbol)) return false;
    const Token *token = token_at(chart->work, i);
    return is_one(chart, token->word, symbol) || is_one(chart, token->stem, symbol) ||
           (chart->numbered[i] && is_one(chart, chart->rules->number, symbol));
}

/* Makes the marks of a symbol on single words, once for each sentence. */
static void make_marks(Chart *chart, Symbol symbol)
{
    if (has(chart->marked, symbol)) return;
    include(chart->marked, symbol);
    for (int i = chart->from; i < chart->to; i++)
        if (token_is(chart, i, symbol)) put(chart, symbol, i, i + 1, 1);
}

/* The last token at which an element may stand that is looked for from token `at` on. */
static int reach(const Chart *chart, const Element *element, int start, int at)
{
    int last = MIN(at + element->gap, start + PATTERN_REACH - 1);

    if (!element->far) last = MIN(last, chart->clause_next[at] - 1);
    if (!element->over) last = MIN(last, chart->but_next[at]);
    return MIN(last, chart->to - 1);
}

/* Where the symbol stands next, last + 1 for nowhere. bare: whether that token is the symbol by itself, and no mark says so. */
static int nearest(const Chart *chart, Symbol symbol, int from, int last, bool *bare)
{
    const Mark *marks = chart->work->marks;
    int found = last + 1;

    for (int i = last_mark(chart, symbol); i >= 0; i = chart->work->marks[i].before)
        if (marks[i].start >= from && marks[i].start < found) found = marks[i].start;
    *bare = false;
    if (has(chart->marked, symbol)) return found;
    for (int i = from; i <= MIN(found, last); i++)
        if (token_is(chart, i, symbol)) {
            *bare = true;
            return i;
        }
    return found;
}

/* Matches elements k and on from token `at`; adds the class where the last one holds. mask: tokens
 * named so far. */
static bool match(Chart *chart, const Row *row, int k, int start, int at, guint64 mask)
{
    if (k == row->n) {
        if (!edge_ends(chart, row->end, at)) return false;
        add(chart, row->class, start, at, mask);
        return true;
    }
    if (at >= chart->to) return false;
    const Element *element = &chart->rules->elements[row->first + (guint)k];
    int last = reach(chart, element, start, at);
    for (int here = at; here <= last; here++) {
        bool found = false, bare;
        here = nearest(chart, element->symbol, here, last, &bare);
        if (here > last) return false;
        if (here - start < 63 && bare)
            found = match(chart, row, k + 1, start, here + 1,
                          mask | (G_GUINT64_CONSTANT(1) << (here - start)));
        for (int i = last_mark(chart, element->symbol); i >= 0; i = chart->work->marks[i].before) {
            Mark part = *mark_at(chart->work, i);
            if (part.start == here && part.end - start <= 63)
                found |=
                    match(chart, row, k + 1, start, part.end, mask | (part.mask << (here - start)));
        }
        if (found) return true;
    }
    return false;
}

static void run(Chart *chart, guint index)
{
    const Needs *needs = &chart->rules->needs[index];
    if (!is_present(chart, needs->rare) || !is_present(chart, needs->next)) return;
    const Row *row = &chart->rules->rows[index];
    const Element *elements = chart->rules->elements + row->first;

    if (index >= chart->rules->edge_rows && !chart->edged) chart_edges(chart);
    for (int k = 0; k < row->n; k++)
        if (!is_present(chart, elements[k].symbol)) return;
    make_marks(chart, elements[0].symbol);
    for (int i = last_mark(chart, elements[0].symbol); i >= 0; i = chart->work->marks[i].before) {
        Mark first = *mark_at(chart->work, i);
        if (edge_begins(chart, row->start, first.start))
            match(chart, row, 1, first.start, first.end, first.mask);
    }
}

/* What a token is occurs: so do all the classes that this is. Those of a role are marked at once; the rows of those that
 * have any wake once all is known that tokens bring by themselves. */
static void occur(Chart *chart, Symbol symbol, int token)
{
    const Entry *entry = &chart->entries[symbol];
    const Rules *rules = chart->rules;

    traits_join(&chart->traits[token], &rules->traits[symbol]);
    if (!is_present(chart, symbol)) {
        for (guint32 i = entry->waking; i < entry->waking_end; i++)
            if (!is_present(chart, rules->waking[i]))
                chart->fresh[chart->n_fresh++] = rules->waking[i];
        for (guint32 i = entry->spread; i < entry->spread_end; i++)
            chart->present[rules->spread[i].word] |= rules->spread[i].bits;
    }
    for (guint32 i = entry->known; i < entry->known_end; i++) {
        Symbol class = rules->known[i];
        include(chart->marked, class);
        if (!known_already(chart, class, token, token + 1, 1))
            put_new(chart, class, token, token + 1, 1);
    }
}

static void occur_number(Chart *chart, const Number *number)
{
    int length = MIN(number->end - number->first, 63);

    chart->numbered[number->first] = length == 1;
    if (length == 1)
        occur(chart, chart->rules->number, number->first);
    else
        add(chart, chart->rules->number, number->first, number->end,
            (G_GUINT64_CONSTANT(1) << length) - 1);
}

/* A year long past: the reader has no clock, and "fell 2026" may be today. */
static bool is_past_year(const Token *token)
{
    return token->digits && token->digit_count == 4 && token->value >= 1900 && token->value < 2020;
}

static void add_tokens(Chart *chart)
{
    Work *work = chart->work;

    for (int i = chart->from; i < chart->to; i++) {
        const Token *token = token_at(work, i);
        chart->traits[i] = (Traits){0};
        if (token->word != 0 && token->word < chart->rules->row_symbols)
            occur(chart, token->word, i);
        if (token->stem != 0) occur(chart, token->stem, i);
    }
    for (; chart->number < (int)work->numbers->len; chart->number++) {
        const Number *number = number_at(work, chart->number);
        if (number->first >= chart->to) break;
        if (number->end <= chart->to) occur_number(chart, number);
        if (is_past_year(token_at(work, number->first)))
            add(chart, chart->rules->year, number->first, number->first + 1, 1);
    }
}

/* The rows of one block that wait, in order; a row may wake others behind it. */
static void run_block(Chart *chart, guint block)
{
    while (chart->waiting[block] != 0) {
        int bit = __builtin_ctzll(chart->waiting[block]);
        chart->waiting[block] &= chart->waiting[block] - 1;
        run(chart, block * 64 + (guint)bit);
    }
}

static void read_sentence(Chart *chart)
{
    guint summaries = chart->rules->n_rows / 4096 + 1;

    gsize set = sizeof(guint32) * (chart->rules->row_symbols / 32 + 1);

    memset(chart->present, 0, set);
    memset(chart->marked, 0, set);
    memset(chart->made, 0, set);
    include(chart->present, 0); /* what a row needs that needs nothing more */
    chart->edged = chart->settled = false;
    chart->n_fresh = 0;
    chart_clauses(chart);
    add_tokens(chart);
    settle(chart);
    for (guint summary = 0; summary < summaries; summary++)
        while (chart->blocks[summary] != 0) {
            int bit = __builtin_ctzll(chart->blocks[summary]);
            run_block(chart, summary * 64 + (guint)bit);
            chart->blocks[summary] &= ~(G_GUINT64_CONSTANT(1) << bit);
        }
    if (!chart->edged) chart_edges(chart);
}

static void *make_room(Chart *chart, gsize symbols, gsize tokens)
{
    gsize blocks = chart->rules->n_rows / 64 + 1, set = symbols / 32 + 1;
    gsize summaries = chart->rules->n_rows / 4096 + 1;
    char *room =
        g_malloc((blocks + summaries) * sizeof(guint64) + 3 * set * sizeof(guint32) +
                 symbols * (sizeof(int) + sizeof(Symbol)) +
                 tokens * (sizeof(Traits) + 2 * sizeof(int) + sizeof(guint8) + sizeof(bool)));

    chart->waiting = (guint64 *)(void *)room;
    chart->blocks = chart->waiting + blocks;
    chart->traits = (Traits *)(void *)(chart->blocks + summaries);
    chart->present = (guint32 *)(void *)(chart->traits + tokens);
    chart->marked = chart->present + set;
    chart->made = chart->marked + set;
    chart->marks_of = (int *)(void *)(chart->made + set);
    chart->clause_next = chart->marks_of + symbols;
    chart->but_next = chart->clause_next + tokens;
    chart->fresh = (Symbol *)(chart->but_next + tokens);
    chart->edges = (guint8 *)(chart->fresh + symbols);
    memset(chart->waiting, 0, (blocks + summaries) * sizeof(guint64));
    chart->numbered = (bool *)(chart->edges + tokens);
    memset(chart->edges, 0, tokens * (sizeof(guint8) + sizeof(bool)));
    return room;
}

void chart_make(Work *work)
{
    int count = token_count(work);
    guint symbols = work->rules->row_symbols;
    Chart chart = {
        .work = work,
        .rules = work->rules,
        .entries = &g_array_index(work->rules->entries, Entry, 0),
    };
    void *room = make_room(&chart, symbols, (gsize)count + 1);

    while (chart.from < count) {
        chart.to = chart.from + 1;
        while (chart.to < count && token_at(work, chart.to)->level != LEVEL_SENTENCE &&
               chart.to - chart.from < PIECE)
            chart.to++;
        read_sentence(&chart);
        chart.from = chart.to;
    }
    roles_cover(work);
    g_free(room);
}
