/* SPDX-License-Identifier: Apache-2.0 */
/* What a token of a text wakes.
 *
 * A row waits for one symbol alone, its anchor: of all that it is made of the one that is expected least often, so that a text
 * wakes few rows. What a word is, it is told by bits. */
#include "core/talk/rules_grammar.h"

/* Most words are not what they are asked to be: one bit says so. */
static void make_traits(Rules *rules)
{
    rules->traits = g_new0(Traits, rules->entries->len);
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        traits_add(&rules->traits[i], (Symbol)i);
        for (guint32 k = entry->alone; k < entry->alone_end; k++)
            traits_add(&rules->traits[i], rules->alone[k]);
    }
}

static Symbol rarest_but(const Row *row, const Element *elements, const double *weights,
                         Symbol anchor, Symbol other)
{
    Symbol best = anchor;

    for (int k = 0; k < row->n; k++) {
        Symbol symbol = elements[k].symbol;
        if (symbol != anchor && symbol != other &&
            (best == anchor || weights[symbol] < weights[best]))
            best = symbol;
    }
    return best;
}

/* By symbol, whether some row makes it: it may occur though no word of the text is it. */
static bool *find_made(const Rules *rules)
{
    bool *made = g_new0(bool, rules->entries->len);

    for (guint i = 0; i < rules->n_rows; i++) {
        const Entry *entry = rules_entry(rules, rules->rows[i].class);
        made[rules->rows[i].class] = true;
        for (guint32 k = entry->alone; k < entry->alone_end; k++)
            made[rules->alone[k]] = true;
    }
    return made;
}

/* The rarest part of a row, but its anchor, that no row makes; 0 where there is none. */
static Symbol rarest_word(const Row *row, const Element *elements, const double *weights,
                          const bool *made, Symbol anchor)
{
    Symbol best = 0;

    for (int k = 0; k < row->n; k++) {
        Symbol symbol = elements[k].symbol;
        if (symbol != anchor && !made[symbol] && (best == 0 || weights[symbol] < weights[best]))
            best = symbol;
    }
    return best;
}

static void make_anchors(Rules *rules, const double *weights)
{
    g_autofree bool *made = find_made(rules);
    g_autofree Symbol *anchor_of = g_new0(Symbol, rules->n_rows + 1);
    g_autofree guint32 *fill = g_new0(guint32, rules->entries->len + 1);
    guint32 *at = g_new0(guint32, rules->entries->len + 2);

    rules->needs = g_new0(Needs, rules->n_rows + 1);

    for (guint i = 0; i < rules->n_rows; i++) {
        const Element *elements = rules->elements + rules->rows[i].first;
        Symbol best = elements[0].symbol;
        for (int k = 1; k < rules->rows[i].n; k++)
            if (weights[elements[k].symbol] < weights[best]) best = elements[k].symbol;
        anchor_of[i] = best;
        Symbol rare = rarest_but(&rules->rows[i], elements, weights, best, best);
        rules->needs[i] = (Needs){rare, rarest_but(&rules->rows[i], elements, weights, best, rare)};
        at[best + 1]++;
    }
    for (guint i = 0; i < rules->entries->len; i++)
        at[i + 1] += at[i];
    memcpy(fill, at, sizeof(guint32) * rules->entries->len);
    rules->anchors = g_new0(Anchor, rules->n_rows + 1);
    for (guint i = 0; i < rules->n_rows; i++) {
        const Row *row = &rules->rows[i];
        Symbol need = rarest_word(row, rules->elements + row->first, weights, made, anchor_of[i]);
        rules->anchors[fill[anchor_of[i]]++] = (Anchor){i, need};
    }
    rules->anchor_at = at;
}

static bool anchors_rows(const Rules *rules, Symbol symbol)
{
    return rules->anchor_at[symbol + 1] > rules->anchor_at[symbol];
}

/* Whether it may be what a single token is: a word, a stem or a number. */
static bool is_of_token(const Rules *rules, guint symbol)
{
    return symbol == rules->number || !rules_entry(rules, (Symbol)symbol)->class;
}

/* What a token wakes rows by, once anchors are known. */
static void make_waking(Rules *rules)
{
    g_autoptr(GArray) waking = g_array_new(FALSE, FALSE, sizeof(Symbol));

    for (guint i = 1; i < rules->entries->len; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        Symbol self = (Symbol)i;
        bool single = is_of_token(rules, i);
        entry->waking = waking->len;
        if (single && anchors_rows(rules, self)) g_array_append_val(waking, self);
        for (guint32 k = entry->alone; single && k < entry->alone_end; k++)
            if (anchors_rows(rules, rules->alone[k])) g_array_append_val(waking, rules->alone[k]);
        entry->waking_end = waking->len;
    }
    rules->waking = g_new(Symbol, waking->len + 1);
    if (waking->len > 0) memcpy(rules->waking, waking->data, sizeof(Symbol) * waking->len);
}

/* Puts a symbol behind those of a token, which begin at first; where they end then. */
static Spread *spread_over(Spread *first, Spread *end, Symbol symbol)
{
    Spread one = {symbol / 32, 1u << (symbol % 32)};

    if (end > first && end[-1].word == one.word) {
        end[-1].bits |= one.bits;
        return end;
    }
    *end = one;
    return end + 1;
}

/* What a token is, so that a sentence takes it in 32 at a time. */
static void make_spread(Rules *rules)
{
    guint n = rules->entries->len, most = n + rules_entry(rules, (Symbol)(n - 1))->alone_end;
    Spread *end = rules->spread = g_new(Spread, most);

    for (guint i = 1; i < n; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        Spread *first = end;
        bool single = is_of_token(rules, i);
        if (single) end = spread_over(first, end, (Symbol)i);
        for (guint32 k = entry->alone; single && k < entry->alone_end; k++)
            end = spread_over(first, end, rules->alone[k]);
        entry->spread = (guint32)(first - rules->spread);
        entry->spread_end = (guint32)(end - rules->spread);
    }
    rules->spread = g_renew(Spread, rules->spread, end - rules->spread + 1);
}

/* Of what is many things, whether it is one of them is told by a bit. */
static void make_maps(Rules *rules)
{
    enum { MANY = 32 };
    guint set = rules->entries->len / 32 + 1, n = 1;

    for (guint i = 1; i < rules->entries->len; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        if (is_of_token(rules, i) && entry->alone_end - entry->alone > MANY) entry->map = set * n++;
    }
    rules->maps = g_new0(guint32, (gsize)set * n);
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        for (guint32 k = entry->spread; entry->map != 0 && k < entry->spread_end; k++)
            rules->maps[entry->map + rules->spread[k].word] = rules->spread[k].bits;
    }
}

void rules_wake(Rules *rules, const double *weights)
{
    make_traits(rules);
    make_anchors(rules, weights);
    make_waking(rules);
    make_spread(rules);
    make_maps(rules);
}
