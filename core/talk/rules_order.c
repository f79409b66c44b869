/* SPDX-License-Identifier: Apache-2.0 */
/* From written patterns to a grammar that a text runs through once.
 *
 * Rows stand in an order in which each comes behind those that make its classes. How often a symbol occurs is guessed from the
 * pack itself: a word that fills, denies or joins is common, and so is one that many patterns speak of. */
#include "core/talk/rules_compile.h"

typedef struct {
    Rules *rules;
    const Written *written;
    const Part *parts;
    guint n_written, n_symbols;
    Lists of;       /* by class: its written patterns */
    Lists alone;    /* by symbol: what it is by itself */
    guint8 *state;  /* by class: 0 new, 1 being visited, 2 done */
    guint32 *order; /* written patterns */
    guint n_order;
    Symbol *classes; /* in the same order */
    guint n_classes;
    Symbol ring;
} Sorter;

/* Room for as many values as counts say; they are put at fill, by symbol, which is freed by the caller. */
static guint32 *lists_init(Lists *lists, const guint32 *counts, guint n)
{
    guint32 *fill = g_new(guint32, n + 1), at = 0;

    for (guint i = 0; i < n; i++) {
        fill[i] = at;
        at += counts[i];
    }
    fill[n] = at;
    *lists = (Lists){g_memdup2(fill, sizeof(guint32) * (n + 1)), g_new(guint32, at + 1)};
    return fill;
}

static void lists_clear(Lists *lists)
{
    g_free(lists->at);
    g_free(lists->values);
}

/* A class that is one symbol by itself, wherever it stands. */
static bool stands_alone(const Written *row)
{
    return row->n == 1 && row->start == EDGE_NONE && row->end == EDGE_NONE;
}

static void group_by_class(Sorter *sorter)
{
    g_autofree guint32 *counts = g_new0(guint32, sorter->n_symbols);

    for (guint i = 0; i < sorter->n_written; i++)
        counts[sorter->written[i].class]++;
    g_autofree guint32 *fill = lists_init(&sorter->of, counts, sorter->n_symbols);
    for (guint i = 0; i < sorter->n_written; i++)
        sorter->of.values[fill[sorter->written[i].class]++] = i;
}

static void visit(Sorter *sorter, Symbol class)
{
    const guint32 *at = sorter->of.at + class;

    if (sorter->state[class] == 1) sorter->ring = class;
    if (sorter->state[class] != 0) return;
    sorter->state[class] = 1;
    for (guint32 i = at[0]; i < at[1]; i++) {
        const Written *row = &sorter->written[sorter->of.values[i]];
        for (int k = 0; k < row->n; k++) {
            Symbol part = sorter->parts[row->first + (guint)k].symbol;
            if (rules_entry(sorter->rules, part)->class) visit(sorter, part);
        }
    }
    for (guint32 i = at[0]; i < at[1]; i++)
        sorter->order[sorter->n_order++] = sorter->of.values[i];
    sorter->classes[sorter->n_classes++] = class;
    sorter->state[class] = 2;
}

static guint count_rows(const Sorter *sorter)
{
    guint count = 0;

    for (guint i = 0; i < sorter->n_order; i++)
        count += !stands_alone(&sorter->written[sorter->order[i]]);
    return count;
}

/* What the edges of a clause are told by comes first. */
static void sort(Sorter *sorter)
{
    static const Role EDGES[] = {ROLE_BUT, ROLE_LEAD, ROLE_TAIL};
    Rules *rules = sorter->rules;

    group_by_class(sorter);
    for (size_t i = 0; i < G_N_ELEMENTS(EDGES); i++)
        visit(sorter, rules->role[EDGES[i]]);
    rules->edge_rows = count_rows(sorter);
    for (guint i = 1; i < sorter->n_symbols; i++)
        if (rules_entry(rules, (Symbol)i)->class) visit(sorter, (Symbol)i);
}

/* The patterns in their order, but for those that are one symbol alone. */
static Written *list_rows(const Sorter *sorter)
{
    Rules *rules = sorter->rules;
    Written *rows;

    rules->n_rows = count_rows(sorter);
    rows = g_new(Written, rules->n_rows + 1);
    for (guint i = 0, n = 0; i < sorter->n_order; i++) {
        const Written *row = &sorter->written[sorter->order[i]];
        if (!stands_alone(row)) rows[n++] = *row;
    }
    return rows;
}

/* By symbol, what it is alone and through no other: classes, and of a stem the shorter one that it begins with. */
static void list_parents(const Sorter *sorter, Lists *parents)
{
    g_autofree guint32 *counts = g_new0(guint32, sorter->n_symbols);
    g_autofree Symbol *shorter = g_new0(Symbol, sorter->n_symbols);

    for (guint i = 0; i < sorter->n_written; i++)
        if (stands_alone(&sorter->written[i]))
            counts[sorter->parts[sorter->written[i].first].symbol]++;
    for (guint i = 1; i < sorter->n_symbols; i++) {
        shorter[i] = rules_shorter_stem(sorter->rules, (Symbol)i);
        counts[i] += shorter[i] != 0;
    }
    g_autofree guint32 *fill = lists_init(parents, counts, sorter->n_symbols);
    for (guint i = 0; i < sorter->n_written; i++)
        if (stands_alone(&sorter->written[i]))
            parents->values[fill[sorter->parts[sorter->written[i].first].symbol]++] =
                sorter->written[i].class;
    for (guint i = 1; i < sorter->n_symbols; i++)
        if (shorter[i] != 0) parents->values[fill[i]++] = shorter[i];
}

/* By symbol, the classes that it is alone, those reached through others counted. */
static void close_alone(Sorter *sorter)
{
    Lists parents, *alone = &sorter->alone;
    g_autofree guint *seen = g_new0(guint, sorter->n_symbols);
    guint32 n = 0, room = 4 * sorter->n_symbols, *all = g_new(guint32, room);

    list_parents(sorter, &parents);
    alone->at = g_new0(guint32, sorter->n_symbols + 1);
    for (guint i = 1; i < sorter->n_symbols; i++) {
        guint symbol = i;
        if (room - n < sorter->n_symbols) all = g_renew(guint32, all, room *= 2);
        for (guint32 at = n;; symbol = all[at++]) {
            for (guint32 k = parents.at[symbol]; k < parents.at[symbol + 1]; k++) {
                guint32 class = parents.values[k];
                if (seen[class] != i) all[n++] = class;
                seen[class] = i;
            }
            if (at == n) break;
        }
        alone->at[i + 1] = n;
    }
    lists_clear(&parents);
    alone->values = g_renew(guint32, all, n + 1);
}

/* By symbol, whether it is one of the classes of words that most replies have. */
static bool *find_common(const Rules *rules)
{
    static const Role COMMON[] = {ROLE_FILL, ROLE_NOT,     ROLE_AND,        ROLE_OR,
                                  ROLE_BUT,  ROLE_SELF,    ROLE_LEAD,       ROLE_BREAK,
                                  ROLE_TAIL, ROLE_SUBJECT, ROLE_YES,        ROLE_NO,
                                  ROLE_DID,  ROLE_PAIN,    ROLE_PAIN_LABEL, ROLE_STRETCH_LABEL};
    bool *common = g_new0(bool, rules->entries->len);

    for (size_t i = 0; i < G_N_ELEMENTS(COMMON); i++)
        common[rules->role[COMMON[i]]] = true;
    return common;
}

static bool is_one_of(const Lists *alone, guint symbol, const bool *classes)
{
    for (guint32 i = alone->at[symbol]; i < alone->at[symbol + 1]; i++)
        if (classes[alone->values[i]]) return true;
    return false;
}

/* How often each symbol is expected, in units of its own. */
static double *guess_weights(const Sorter *sorter)
{
    const double times = 20, number = 2000, together = 0.1;
    const Rules *rules = sorter->rules;
    g_autofree bool *common = find_common(rules);
    double *weights = g_new0(double, rules->entries->len);

    for (guint i = 0; i < rules->draft->n_parts; i++)
        weights[sorter->parts[i].symbol] += 1;
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        if (entry->class)
            weights[i] = 0;
        else if (is_one_of(&sorter->alone, i, common))
            weights[i] *= times;
    }
    weights[rules->number] = number;
    for (guint c = 0; c < sorter->n_classes; c++) {
        Symbol class = sorter->classes[c];
        const guint32 *at = sorter->of.at + class;
        for (guint32 i = at[0]; i < at[1]; i++) {
            const Written *row = &sorter->written[sorter->of.values[i]];
            const Part *elements = sorter->parts + row->first;
            double least = weights[elements[0].symbol];
            for (int k = 1; k < row->n; k++)
                least = MIN(least, weights[elements[k].symbol]);
            weights[class] += stands_alone(row) ? least : least * together;
        }
    }
    return weights;
}

const char *rules_order(Rules *rules)
{
    guint n = rules->entries->len, n_written = rules->draft->n_written;
    Sorter sorter = {.rules = rules,
                     .written = rules->draft->written,
                     .parts = rules->draft->parts,
                     .n_written = n_written,
                     .n_symbols = n,
                     .state = g_new0(guint8, n),
                     .order = g_new(guint32, n_written + 1),
                     .classes = g_new(Symbol, n)};

    sort(&sorter);
    if (sorter.ring == 0) {
        close_alone(&sorter);
        g_autofree Written *rows = list_rows(&sorter);
        g_autofree double *weights = guess_weights(&sorter);
        Grammar grammar = {
            .rows = rows, .parts = sorter.parts, .alone = sorter.alone, .weights = weights};
        g_autofree Kind *kinds = rules_kinds(rules, &grammar);
        grammar.kinds = kinds;
        rules_wake(rules, &grammar);
    }
    lists_clear(&sorter.of);
    lists_clear(&sorter.alone);
    g_free(sorter.state);
    g_free(sorter.order);
    g_free(sorter.classes);
    return sorter.ring != 0 ? rules_entry(rules, sorter.ring)->text : NULL;
}
