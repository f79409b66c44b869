/* SPDX-License-Identifier: Apache-2.0 */
/* From written patterns to a grammar that a text runs through once.
 *
 * Rows stand in an order in which each comes behind those that make its classes. A row waits for one
 * symbol alone, its anchor: of all that it is made of the one that is expected least often, so that
 * a text wakes few rows. How often a symbol occurs is guessed from the pack itself: a word that
 * fills, denies or joins is common, and so is one that many patterns speak of. */
#include "core/talk/rules_grammar.h"

typedef struct {
    Rules *rules;
    GArray **of;     /* by class: of guint, its written patterns */
    guint8 *state;   /* 0 new, 1 being visited, 2 done */
    GArray *order;   /* of guint: written patterns */
    GArray *classes; /* of Symbol, in the same order */
    Symbol ring;
} Sorter;

static const Pattern *written(const Rules *rules, guint i)
{
    return &g_array_index(rules->written, Pattern, i);
}

/* A class that is one symbol by itself, wherever it stands. */
static bool stands_alone(const Pattern *pattern)
{
    return pattern->n == 1 && pattern->start == EDGE_NONE && pattern->end == EDGE_NONE;
}

static void visit(Sorter *sorter, Symbol class)
{
    if (sorter->state[class] == 1) sorter->ring = class;
    if (sorter->state[class] != 0) return;
    sorter->state[class] = 1;
    GArray *list = sorter->of[class];
    for (guint i = 0; list != NULL && i < list->len; i++) {
        const Pattern *pattern = written(sorter->rules, g_array_index(list, guint, i));
        for (int k = 0; k < pattern->n; k++)
            if (rules_entry(sorter->rules, pattern->elements[k].symbol)->class)
                visit(sorter, pattern->elements[k].symbol);
    }
    if (list != NULL) g_array_append_vals(sorter->order, list->data, list->len);
    g_array_append_val(sorter->classes, class);
    sorter->state[class] = 2;
}

static guint count_rows(const Sorter *sorter)
{
    guint count = 0;

    for (guint i = 0; i < sorter->order->len; i++)
        count += !stands_alone(written(sorter->rules, g_array_index(sorter->order, guint, i)));
    return count;
}

/* What the edges of a clause are told by comes first. */
static void sort(Sorter *sorter)
{
    static const Role EDGES[] = {ROLE_BUT, ROLE_LEAD, ROLE_TAIL};
    Rules *rules = sorter->rules;

    for (guint i = 0; i < rules->written->len; i++) {
        Symbol class = written(rules, i)->class;
        if (sorter->of[class] == NULL) sorter->of[class] = g_array_new(FALSE, FALSE, sizeof(guint));
        g_array_append_val(sorter->of[class], i);
    }
    for (size_t i = 0; i < G_N_ELEMENTS(EDGES); i++)
        visit(sorter, rules->role[EDGES[i]]);
    rules->edge_rows = count_rows(sorter);
    for (guint i = 1; i < rules->entries->len; i++)
        if (rules_entry(rules, (Symbol)i)->class) visit(sorter, (Symbol)i);
}

static void make_rows(const Sorter *sorter)
{
    Rules *rules = sorter->rules;
    guint n = count_rows(sorter), at = 0, element = 0;

    rules->rows = g_new0(Row, n + 1);
    rules->elements = g_new0(Element, (gsize)n * PATTERN_ELEMENTS + 1);
    for (guint i = 0; i < sorter->order->len; i++) {
        const Pattern *pattern = written(rules, g_array_index(sorter->order, guint, i));
        if (stands_alone(pattern)) continue;
        rules->rows[at++] =
            (Row){pattern->class, pattern->n, pattern->start, pattern->end, element};
        memcpy(rules->elements + element, pattern->elements, sizeof(Element) * pattern->n);
        element += pattern->n;
    }
    rules->n_rows = n;
    rules->elements = g_renew(Element, rules->elements, element + 1);
}

/* By symbol, the classes that it is alone, those reached through others counted. A stem is also the
 * shorter one that it begins with. */
static void close_alone(Rules *rules)
{
    guint n = rules->entries->len;
    GArray **parents = g_new0(GArray *, n);
    g_autofree guint *seen = g_new0(guint, n);
    g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(Symbol));

    for (guint i = 0; i < rules->written->len; i++) {
        const Pattern *pattern = written(rules, i);
        Symbol symbol = pattern->elements[0].symbol;
        if (!stands_alone(pattern)) continue;
        if (parents[symbol] == NULL) parents[symbol] = g_array_new(FALSE, FALSE, sizeof(Symbol));
        g_array_append_val(parents[symbol], pattern->class);
    }
    for (guint i = 1; i < n; i++) {
        Symbol shorter = rules_shorter_stem(rules, (Symbol)i);
        if (shorter == 0) continue;
        if (parents[i] == NULL) parents[i] = g_array_new(FALSE, FALSE, sizeof(Symbol));
        g_array_append_val(parents[i], shorter);
    }
    for (guint i = 1; i < n; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        entry->alone = all->len;
        seen[i] = i;
        for (guint at = entry->alone, first = 1; first != 0 || at < all->len;) {
            GArray *list = parents[first != 0 ? i : g_array_index(all, Symbol, at)];
            at += first == 0;
            first = 0;
            for (guint k = 0; list != NULL && k < list->len; k++) {
                Symbol class = g_array_index(list, Symbol, k);
                if (seen[class] != i) g_array_append_val(all, class);
                seen[class] = i;
            }
        }
        entry->alone_end = all->len;
    }
    for (guint i = 0; i < n; i++)
        if (parents[i] != NULL) g_array_unref(parents[i]);
    g_free(parents);
    rules->alone = g_new(Symbol, all->len + 1);
    if (all->len > 0) memcpy(rules->alone, all->data, sizeof(Symbol) * all->len);
}

static int by_symbol(const void *a, const void *b)
{
    return *(const Symbol *)a - *(const Symbol *)b;
}

static void sort_alone(Rules *rules)
{
    g_autoptr(GArray) known = g_array_new(FALSE, FALSE, sizeof(Symbol));

    for (guint i = 0; i < rules->entries->len; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        qsort(rules->alone + entry->alone, entry->alone_end - entry->alone, sizeof(Symbol),
              by_symbol);
        entry->known = known->len;
        for (guint32 k = entry->alone; k < entry->alone_end; k++)
            if (rules_entry(rules, rules->alone[k])->role >= 0)
                g_array_append_val(known, rules->alone[k]);
        entry->known_end = known->len;
    }
    rules->known = g_new(Symbol, known->len + 1);
    if (known->len > 0) memcpy(rules->known, known->data, sizeof(Symbol) * known->len);
}

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

static bool is_common(const Rules *rules, const Entry *entry)
{
    static const Role COMMON[] = {ROLE_FILL, ROLE_NOT,  ROLE_AND,   ROLE_OR,   ROLE_BUT,
                                  ROLE_SELF, ROLE_LEAD, ROLE_BREAK, ROLE_TAIL, ROLE_SUBJECT};

    for (guint32 i = entry->alone; i < entry->alone_end; i++)
        for (size_t r = 0; r < G_N_ELEMENTS(COMMON); r++)
            if (rules->alone[i] == rules->role[COMMON[r]]) return true;
    return false;
}

/* How often each symbol is expected, in units of its own. */
static double *guess_weights(const Sorter *sorter)
{
    const double common = 20, number = 100, together = 0.3;
    const Rules *rules = sorter->rules;
    double *weights = g_new0(double, rules->entries->len);

    for (guint i = 0; i < rules->written->len; i++)
        for (int k = 0; k < written(rules, i)->n; k++)
            weights[written(rules, i)->elements[k].symbol] += 1;
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        if (entry->class)
            weights[i] = 0;
        else if (is_common(rules, entry))
            weights[i] *= common;
    }
    weights[rules->number] = number;
    for (guint c = 0; c < sorter->classes->len; c++) {
        Symbol class = g_array_index(sorter->classes, Symbol, c);
        const GArray *list = sorter->of[class];
        for (guint i = 0; list != NULL && i < list->len; i++) {
            const Pattern *pattern = written(rules, g_array_index(list, guint, i));
            double least = weights[pattern->elements[0].symbol];
            for (int k = 1; k < pattern->n; k++)
                least = MIN(least, weights[pattern->elements[k].symbol]);
            weights[class] += stands_alone(pattern) ? least : least * together;
        }
    }
    return weights;
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

static void make_anchors(const Sorter *sorter)
{
    Rules *rules = sorter->rules;
    g_autofree double *weights = guess_weights(sorter);
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

/* What a word or stem wakes rows by, once anchors are known. */
static void make_waking(Rules *rules)
{
    g_autoptr(GArray) waking = g_array_new(FALSE, FALSE, sizeof(Symbol));

    for (guint i = 1; i < rules->entries->len; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        Symbol self = (Symbol)i;
        entry->waking = waking->len;
        if (!entry->class && anchors_rows(rules, self)) g_array_append_val(waking, self);
        for (guint32 k = entry->alone; !entry->class && k < entry->alone_end; k++)
            if (anchors_rows(rules, rules->alone[k])) g_array_append_val(waking, rules->alone[k]);
        entry->waking_end = waking->len;
    }
    rules->waking = g_new(Symbol, waking->len + 1);
    if (waking->len > 0) memcpy(rules->waking, waking->data, sizeof(Symbol) * waking->len);
}

const char *rules_order(Rules *rules)
{
    guint n = rules->entries->len;
    Sorter sorter = {.rules = rules,
                     .of = g_new0(GArray *, n),
                     .state = g_new0(guint8, n),
                     .order = g_array_new(FALSE, FALSE, sizeof(guint)),
                     .classes = g_array_new(FALSE, FALSE, sizeof(Symbol))};

    sort(&sorter);
    if (sorter.ring == 0) {
        make_rows(&sorter);
        close_alone(rules);
        sort_alone(rules);
        make_traits(rules);
        make_anchors(&sorter);
        make_waking(rules);
    }
    for (guint i = 0; i < n; i++)
        if (sorter.of[i] != NULL) g_array_unref(sorter.of[i]);
    g_free(sorter.of);
    g_free(sorter.state);
    g_array_unref(sorter.order);
    g_array_unref(sorter.classes);
    return sorter.ring != 0 ? rules_entry(rules, sorter.ring)->text : NULL;
}
