/* SPDX-License-Identifier: Apache-2.0 */
/* What a token of a text wakes.
 *
 * A row waits for one kind alone, its anchor: of all that it is made of the one that is expected least often, so that a text
 * wakes few rows. What a word is, it is told by bits; the rows of all that it is stand in one list. */
#include "core/talk/rules_compile.h"

/* By symbol, whether some row makes it: it may occur though no word of the text is it. */
static bool *find_made(const Rules *rules, const Grammar *grammar)
{
    bool *made = g_new0(bool, rules->entries->len);

    for (guint i = 0; i < rules->n_rows; i++) {
        Symbol class = grammar->rows[i].class;
        made[class] = true;
        for (guint32 k = grammar->alone.at[class]; k < grammar->alone.at[class + 1]; k++)
            made[grammar->alone.values[k]] = true;
    }
    return made;
}

/* The rarest part of a row. */
static Symbol rarest(const Grammar *grammar, const Written *row)
{
    const Part *parts = grammar->parts + row->first;
    Symbol best = parts[0].symbol;

    for (int k = 1; k < row->n; k++)
        if (grammar->weights[parts[k].symbol] < grammar->weights[best]) best = parts[k].symbol;
    return best;
}

/* The rarest part of a row that no row makes, but these two; 0 where there is none. */
static Symbol rarest_but(const Grammar *grammar, const Written *row, const bool *made, Symbol one,
                         Symbol other)
{
    const Part *parts = grammar->parts + row->first;
    Symbol best = 0;

    for (int k = 0; k < row->n; k++) {
        Symbol symbol = parts[k].symbol;
        if (symbol != one && symbol != other && !made[symbol] &&
            (best == 0 || grammar->weights[symbol] < grammar->weights[best]))
            best = symbol;
    }
    return best;
}

/* What each row waits for and needs. */
typedef struct {
    Kind kind, rare, next;
} Wait;

static Wait *find_waits(const Rules *rules, const Grammar *grammar)
{
    g_autofree bool *made = find_made(rules, grammar);
    Wait *waits = g_new(Wait, rules->n_rows + 1);

    for (guint i = 0; i < rules->n_rows; i++) {
        const Written *row = &grammar->rows[i];
        Symbol anchor = rarest(grammar, row);
        Symbol rare = rarest_but(grammar, row, made, anchor, 0);
        Symbol next = rarest_but(grammar, row, made, anchor, rare);
        waits[i] = (Wait){grammar->kinds[anchor], grammar->kinds[rare], grammar->kinds[next]};
    }
    return waits;
}

/* The rows by what they need that is rare. */
static guint32 *sort_by_rare(const Rules *rules, const Wait *waits)
{
    g_autofree guint32 *fill = g_new0(guint32, rules->n_kinds + 1);
    guint32 *rows = g_new(guint32, rules->n_rows + 1);

    for (guint i = 0; i < rules->n_rows; i++)
        fill[waits[i].rare + 1]++;
    for (guint i = 0; i < rules->n_kinds; i++)
        fill[i + 1] += fill[i];
    for (guint i = 0; i < rules->n_rows; i++)
        rows[fill[waits[i].rare]++] = i;
    return rows;
}

/* Anchors of a kind that need the same rare one stand together, so that it is asked for once. */
static void count_alike(Anchor *anchors, guint n)
{
    enum { MOST = (1 << (32 - ROW_BITS)) - 1 };

    for (guint i = n; i-- > 1;)
        if (anchors[i - 1].rare == anchors[i].rare && anchors[i].alike < MOST)
            anchors[i - 1].alike = anchors[i].alike + 1;
}

static void make_anchors(Rules *rules, const Grammar *grammar)
{
    g_autofree Wait *waits = find_waits(rules, grammar);
    g_autofree guint32 *rows = sort_by_rare(rules, waits);
    guint32 *at = g_new0(guint32, rules->n_kinds + 2);

    for (guint i = 0; i < rules->n_rows; i++)
        at[waits[i].kind + 2]++;
    for (guint i = 0; i < rules->n_kinds; i++)
        at[i + 2] += at[i + 1];
    rules->anchors = g_new(Anchor, rules->n_rows + 1);
    for (guint i = 0; i < rules->n_rows; i++) {
        const Wait *wait = &waits[rows[i]];
        rules->anchors[at[wait->kind + 1]++] = (Anchor){rows[i], 0, wait->rare, wait->next};
    }
    for (guint i = 0; i < rules->n_kinds; i++)
        count_alike(rules->anchors + at[i], at[i + 1] - at[i]);
    rules->anchor_at = at;
}

static Element element_of(const Grammar *grammar, const Part *part)
{
    return (Element){grammar->kinds[part->symbol], part->gap, part->far, part->over};
}

static void make_rows(Rules *rules, const Grammar *grammar)
{
    guint32 n = 0, room = 1024;

    rules->rows = g_new0(Row, rules->n_rows + 1);
    rules->elements = g_new(Element, room);
    for (guint i = 0; i < rules->n_rows; i++) {
        const Written *written = &grammar->rows[i];
        const Part *parts = grammar->parts + written->first;
        Row *row = &rules->rows[i];
        *row = (Row){.class = grammar->kinds[written->class],
                     .n = written->n,
                     .start = written->start,
                     .end = written->end,
                     .more = n};
        if (room - n < PATTERN_ELEMENTS)
            rules->elements = g_renew(Element, rules->elements, room *= 2);
        for (guint k = 0; k < MIN(written->n, ROW_FEW); k++)
            row->few[k] = element_of(grammar, &parts[k]);
        for (guint k = ROW_FEW; k < written->n; k++)
            rules->elements[n++] = element_of(grammar, &parts[k]);
    }
    rules->elements = g_renew(Element, rules->elements, n + 1);
}

static int by_number(const void *a, const void *b)
{
    return *(const Kind *)a - *(const Kind *)b;
}

static void sort_kinds(Kind *kinds, size_t n)
{
    enum { FEW = 24 };

    if (n > FEW) {
        qsort(kinds, n, sizeof(Kind), by_number);
        return;
    }
    for (size_t i = 1; i < n; i++) {
        Kind kind = kinds[i];
        size_t k = i;
        for (; k > 0 && kinds[k - 1] > kind; k--)
            kinds[k] = kinds[k - 1];
        kinds[k] = kind;
    }
}

/* The kinds of a symbol and of all that it is alone, in order; how many. */
static guint list_kinds(const Grammar *grammar, guint symbol, Kind *kinds)
{
    const guint32 *at = grammar->alone.at + symbol;
    guint n = 0;

    if (grammar->kinds[symbol] != 0) kinds[n++] = grammar->kinds[symbol];
    for (guint32 k = at[0]; k < at[1]; k++)
        kinds[n++] = grammar->kinds[grammar->alone.values[k]];
    sort_kinds(kinds, n);
    return n;
}

/* Puts a kind behind those of a token, which begin at first; where they end then. */
static Spread *spread_over(Spread *first, Spread *end, Kind kind)
{
    Spread one = {kind / 32, 1u << (kind % 32)};

    if (end > first && end[-1].word == one.word) {
        end[-1].bits |= one.bits;
        return end;
    }
    *end = one;
    return end + 1;
}

/* What a token is by its kinds, and of these those of a role: where the next begin. */
static void make_words(Rules *rules, const Grammar *grammar)
{
    guint n = rules->entries->len;
    gsize most = (gsize)n + grammar->alone.at[n];
    Spread *spread = rules->spread = g_new(Spread, most);
    Kind *known = rules->known = g_new(Kind, most);
    g_autofree Kind *kinds = g_new(Kind, rules->n_kinds + 1);

    rules->words = g_new0(Word, n + 1);
    for (guint i = 0; i <= n; i++) {
        Word *word = &rules->words[i];
        Spread *first = spread;
        word->spread = (guint32)(spread - rules->spread);
        word->known = (guint32)(known - rules->known);
        if (i == 0 || i == n || !rules_is_of_token(rules, i)) continue;
        word->kind = grammar->kinds[i];
        guint count = list_kinds(grammar, i, kinds);
        for (guint k = 0; k < count; k++) {
            spread = spread_over(first, spread, kinds[k]);
            if (rules->role_of[kinds[k]] >= 0) *known++ = kinds[k];
        }
    }
    rules->spread = g_renew(Spread, rules->spread, spread - rules->spread + 1);
    rules->known = g_renew(Kind, rules->known, known - rules->known + 1);
}

/* The rows that the kinds of a token are anchors of. */
static void make_waking(Rules *rules, const Grammar *grammar)
{
    guint n = rules->entries->len;
    guint32 end = 0, room = 4096;
    Anchor *waking = g_new(Anchor, room);

    for (guint i = 0; i <= n; i++) {
        const guint32 *alone = grammar->alone.at + i;
        rules->words[i].waking = end;
        if (i == 0 || i == n || !rules_is_of_token(rules, i)) continue;
        for (guint32 k = alone[0]; k <= alone[1]; k++) {
            Symbol symbol = (Symbol)(k < alone[1] ? grammar->alone.values[k] : i);
            const guint32 *at = rules->anchor_at + grammar->kinds[symbol];
            guint32 count = at[1] - at[0];
            if (room - end < count) waking = g_renew(Anchor, waking, room = 2 * room + count);
            memcpy(waking + end, rules->anchors + at[0], sizeof(Anchor) * count);
            end += count;
        }
    }
    rules->waking = g_renew(Anchor, waking, end + 1);
}

void rules_wake(Rules *rules, const Grammar *grammar)
{
    make_rows(rules, grammar);
    make_anchors(rules, grammar);
    make_words(rules, grammar);
    make_waking(rules, grammar);
}
