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
enum { FRESH = 4 };   /* things that one token may be: a word, a stem, a number, a year */

static inline bool has(const guint32 *set, Kind kind)
{
    return (set[kind / 32] >> (kind % 32) & 1) != 0;
}

static inline void include(guint32 *set, Kind kind)
{
    set[kind / 32] |= 1u << (kind % 32);
}

static inline bool is_present(const Chart *chart, Kind kind)
{
    return has(chart->present, kind);
}

/* The last mark of a kind in the sentence, -1 for none; go on by before. */
static inline int last_mark(const Chart *chart, Kind kind)
{
    return has(chart->made, kind) ? chart->marks_of[kind] : -1;
}

static void wake(Chart *chart, const Anchor *anchor, const Anchor *end)
{
    while (anchor < end) {
        const Anchor *others = anchor + anchor->alike + 1;
        if (!is_present(chart, anchor->rare)) anchor = others;
        for (; anchor < others; anchor++) {
            if (!is_present(chart, anchor->next)) continue;
            chart->waiting[anchor->row / 64] |= G_GUINT64_CONSTANT(1) << (anchor->row % 64);
            chart->blocks[anchor->row / 4096] |= G_GUINT64_CONSTANT(1) << (anchor->row / 64 % 64);
            __builtin_prefetch(&chart->rules->rows[anchor->row]);
        }
    }
}

/* A sign that two patterns make of other words is two marks: "passed water without feeling it" holds where one of them
 * names the "without". */
static bool known_already(const Chart *chart, Kind kind, int start, int end, guint64 mask)
{
    const Mark *marks = chart->work->marks;
    int role = chart->rules->role_of[kind];
    bool sign = role >= ROLE_CRISIS && role <= ROLE_FALL;

    for (int i = last_mark(chart, kind); i >= 0; i = chart->work->marks[i].before)
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
    work->occurring.bits[role / 64] |= G_GUINT64_CONSTANT(1) << (role % 64);
    *from = MAX(*from, length);
    *to = MAX(*to, length);
}

/* False where there are as many marks as there may be. */
static G_GNUC_NO_INLINE bool grow(Work *work)
{
    if (work->n_marks == work->marks_max) return false;
    Mark *before = work->more_marks;
    work->marks_room = MIN(work->marks_room * 2, work->marks_max);
    work->more_marks = g_new(Mark, work->marks_room);
    memcpy(work->more_marks, work->marks, sizeof(Mark) * (gsize)work->n_marks);
    work->marks = work->more_marks;
    g_free(before);
    return true;
}

/* A mark of a class that is present and not known to hold there. */
static bool put_new(Chart *chart, Kind kind, int start, int end, guint64 mask)
{
    Work *work = chart->work;
    int index = work->n_marks, role = chart->rules->role_of[kind];

    if (work->n_marks == work->marks_room && !grow(work)) return false;
    Mark *mark = &work->marks[work->n_marks++];
    mark->kind = kind;
    mark->start = (guint16)start;
    mark->end = (guint16)end;
    mark->mask = mask;
    mark->next = -1;
    mark->before = last_mark(chart, kind);
    if (role >= 0) note_role(work, index, role);
    chart->marks_of[kind] = index;
    include(chart->made, kind);
    return true;
}

/* False where the class is known to hold there already. */
static bool put(Chart *chart, Kind kind, int start, int end, guint64 mask)
{
    const Rules *rules = chart->rules;

    if (is_present(chart, kind)) {
        if (known_already(chart, kind, start, end, mask)) return false;
    } else {
        const guint32 *at = rules->anchor_at + kind;
        include(chart->present, kind);
        wake(chart, rules->anchors + at[0], rules->anchors + at[1]);
    }
    return put_new(chart, kind, start, end, mask);
}

static void add(Chart *chart, Kind kind, int start, int end, guint64 mask)
{
    const guint32 *at = chart->rules->alone_at + kind;

    if (!put(chart, kind, start, end, mask)) return;
    for (guint32 i = at[0]; i < at[1]; i++)
        put(chart, chart->rules->alone[i], start, end, mask);
}

/* --- matching */

static inline guint32 *set_of_token(const Chart *chart, int token)
{
    return chart->is + (gsize)(token - chart->from) * chart->set;
}

/* Whether a token by itself is a word or class. */
static inline bool token_is(const Chart *chart, int i, Kind kind)
{
    return has(set_of_token(chart, i), kind);
}

/* Makes the marks of a kind on single words, once for each sentence. */
static void make_marks(Chart *chart, Kind kind)
{
    if (has(chart->marked, kind)) return;
    include(chart->marked, kind);
    for (int i = chart->from; i < chart->to; i++)
        if (token_is(chart, i, kind)) put(chart, kind, i, i + 1, 1);
}

/* The last token at which an element may stand that is looked for from token `at` on. */
static int reach(const Chart *chart, const Element *element, int start, int at)
{
    int last = MIN(at + element->gap, start + PATTERN_REACH - 1);

    if (!element->far) last = MIN(last, chart->clause_next[at] - 1);
    if (!element->over) last = MIN(last, chart->but_next[at]);
    return MIN(last, chart->to - 1);
}

/* Where the kind stands next, last + 1 for nowhere. bare: whether that token is the kind by itself, and no mark says so. */
static int nearest(const Chart *chart, Kind kind, int from, int last, bool *bare)
{
    const Mark *marks = chart->work->marks;
    int found = last + 1;

    for (int i = last_mark(chart, kind); i >= 0; i = chart->work->marks[i].before)
        if (marks[i].start >= from && marks[i].start < found) found = marks[i].start;
    *bare = false;
    if (has(chart->marked, kind)) return found;
    for (int i = from; i <= MIN(found, last); i++)
        if (token_is(chart, i, kind)) {
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
    const Element *element = row_element(chart->rules, row, k);
    int last = reach(chart, element, start, at);
    for (int here = at; here <= last; here++) {
        bool found = false, bare;
        here = nearest(chart, element->kind, here, last, &bare);
        if (here > last) return false;
        if (here - start < 63 && bare)
            found = match(chart, row, k + 1, start, here + 1,
                          mask | (G_GUINT64_CONSTANT(1) << (here - start)));
        for (int i = last_mark(chart, element->kind); i >= 0; i = chart->work->marks[i].before) {
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
    const Row *row = &chart->rules->rows[index];

    for (int k = 0; k < row->n; k++)
        if (!is_present(chart, row_element(chart->rules, row, k)->kind)) return;
    if (index >= chart->rules->edge_rows && !chart->edged) chart_edges(chart);
    make_marks(chart, row->few[0].kind);
    for (int i = last_mark(chart, row->few[0].kind); i >= 0; i = chart->work->marks[i].before) {
        Mark first = *mark_at(chart->work, i);
        if (edge_begins(chart, row->start, first.start))
            match(chart, row, 1, first.start, first.end, first.mask);
    }
}

/* What a token is occurs: so do all the classes that this is, on this token and in the sentence. */
static void occur(Chart *chart, Symbol symbol, guint32 *token)
{
    const Rules *rules = chart->rules;
    const Word *word = &rules->words[symbol];

    if (word->kind == 0 || !is_present(chart, word->kind)) chart->fresh[chart->n_fresh++] = symbol;
    for (guint32 i = word[0].spread; i < word[1].spread; i++) {
        token[rules->spread[i].word] |= rules->spread[i].bits;
        chart->present[rules->spread[i].word] |= rules->spread[i].bits;
    }
}

/* Of what a token is, the classes of a role are marked at once. in_order: after all tokens before it and none behind it, so that
 * of a class only its last mark can be there. */
static void mark_known(Chart *chart, Symbol symbol, int token, bool in_order)
{
    const Rules *rules = chart->rules;
    const Word *word = &rules->words[symbol];

    for (guint32 i = word[0].known; i < word[1].known; i++) {
        Kind class = rules->known[i];
        int last = last_mark(chart, class);
        bool known = in_order ? last >= 0 && chart->work->marks[last].start == token
                              : known_already(chart, class, token, token + 1, 1);
        include(chart->marked, class);
        if (!known) put_new(chart, class, token, token + 1, 1);
    }
}

static void occur_at(Chart *chart, Symbol symbol, int token, bool in_order)
{
    occur(chart, symbol, set_of_token(chart, token));
    mark_known(chart, symbol, token, in_order);
}

static void occur_number(Chart *chart, const Number *number)
{
    Symbol symbol = chart->rules->number;
    int length = MIN(number->end - number->first, 63);

    if (length == 1) {
        occur_at(chart, symbol, number->first, false);
        return;
    }
    occur(chart, symbol, chart->present);
    add(chart, chart->rules->words[symbol].kind, number->first, number->end,
        (G_GUINT64_CONSTANT(1) << length) - 1);
}

static void occur_year(Chart *chart, int token)
{
    occur(chart, chart->rules->year, chart->present);
    add(chart, chart->rules->words[chart->rules->year].kind, token, token + 1, 1);
}

/* A year long past: the reader has no clock, and "fell 2026" may be today. */
static bool is_past_year(const Token *token)
{
    return token->digits && token->digit_count == 4 && token->value >= 1900 && token->value < 2020;
}

/* What the next steps look up of a symbol lies anywhere: it is asked for ahead, all tokens at once. */
static void fetch(const Rules *rules, Symbol symbol)
{
    const Word *word = &rules->words[symbol];

    __builtin_prefetch(&rules->spread[word->spread]);
    __builtin_prefetch(&rules->known[word->known]);
    __builtin_prefetch(&rules->waking[word->waking]);
}

static void fetch_tokens(const Chart *chart)
{
    const Rules *rules = chart->rules;

    for (int i = chart->from; i < chart->to; i++) {
        fetch(rules, token_at(chart->work, i)->word);
        fetch(rules, token_at(chart->work, i)->stem);
    }
}

static void add_tokens(Chart *chart)
{
    Work *work = chart->work;

    for (int i = chart->from; i < chart->to; i++) {
        const Token *token = token_at(work, i);
        if (token->word != 0) occur_at(chart, token->word, i, true);
        if (token->stem != 0) occur_at(chart, token->stem, i, true);
    }
    for (; chart->number < (int)work->numbers->len; chart->number++) {
        const Number *number = number_at(work, chart->number);
        if (number->first >= chart->to) break;
        if (number->end <= chart->to) occur_number(chart, number);
        if (is_past_year(token_at(work, number->first))) occur_year(chart, number->first);
    }
}

/* Wakes the rows of all that the tokens are. */
static void settle(Chart *chart)
{
    const Rules *rules = chart->rules;

    for (int i = 0; i < chart->n_fresh; i++) {
        const Word *word = &rules->words[chart->fresh[i]];
        wake(chart, rules->waking + word[0].waking, rules->waking + word[1].waking);
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

    memset(chart->present, 0, sizeof(guint32) * chart->set * 3);
    memset(chart->is, 0, sizeof(guint32) * chart->set * (gsize)(chart->to - chart->from));
    include(chart->present, 0); /* what a row needs that needs nothing more */
    chart->edged = false;
    chart->n_fresh = 0;
    fetch_tokens(chart);
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

gsize chart_room(const Rules *rules, gsize tokens)
{
    gsize at_once = MIN(tokens, PIECE), blocks = rules->n_rows / 64 + 1;
    gsize summaries = rules->n_rows / 4096 + 1, set = rules->n_kinds / 32 + 1;
    gsize bytes = (blocks + summaries) * sizeof(guint64) + (3 + at_once) * set * sizeof(guint32) +
                  rules->n_kinds * sizeof(int) + FRESH * at_once * sizeof(Symbol) +
                  tokens * (2 * sizeof(int) + sizeof(guint8));

    return (bytes + 7) / 8 * 8;
}

static void take_room(Chart *chart, gsize tokens)
{
    const Rules *rules = chart->rules;
    gsize at_once = MIN(tokens, PIECE), blocks = rules->n_rows / 64 + 1;
    gsize summaries = rules->n_rows / 4096 + 1, set = chart->set = rules->n_kinds / 32 + 1;

    chart->waiting = chart->work->room;
    chart->blocks = chart->waiting + blocks;
    chart->present = (guint32 *)(void *)(chart->blocks + summaries);
    chart->marked = chart->present + set;
    chart->made = chart->marked + set;
    chart->is = chart->made + set;
    chart->marks_of = (int *)(void *)(chart->is + at_once * set);
    chart->clause_next = chart->marks_of + rules->n_kinds;
    chart->but_next = chart->clause_next + tokens;
    chart->fresh = (Symbol *)(chart->but_next + tokens);
    chart->edges = (guint8 *)(chart->fresh + FRESH * at_once);
    memset(chart->waiting, 0, (blocks + summaries) * sizeof(guint64));
    memset(chart->edges, 0, tokens * sizeof(guint8));
}

void chart_make(Work *work)
{
    int count = token_count(work);
    Chart chart = {.work = work, .rules = work->rules};

    take_room(&chart, (gsize)count + 1);
    while (chart.from < count) {
        chart.to = chart.from + 1;
        while (chart.to < count && token_at(work, chart.to)->level != LEVEL_SENTENCE &&
               chart.to - chart.from < PIECE)
            chart.to++;
        read_sentence(&chart);
        chart.from = chart.to;
    }
    roles_cover(work);
}
