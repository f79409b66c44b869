/* SPDX-License-Identifier: Apache-2.0 */
/* The numbers by which a text is held against rows.
 *
 * A common word is hundreds of classes. Where these have numbers that follow one another, a sentence takes them in by a few
 * words of bits: so the symbols that are most give theirs their numbers first. */
#include "core/talk/rules_compile.h"

/* By symbol, whether it needs a kind: classes, and what rows or stems speak of. */
static bool *find_spoken_of(const Rules *rules, const Grammar *grammar)
{
    guint n = rules->entries->len;
    bool *spoken_of = g_new0(bool, n);

    for (guint i = 1; i < n; i++)
        spoken_of[i] = rules_entry(rules, (Symbol)i)->class;
    for (guint32 k = 0; k < grammar->alone.at[n]; k++)
        spoken_of[grammar->alone.values[k]] = true;
    for (guint i = 0; i < rules->n_rows; i++)
        for (guint k = 0; k < grammar->rows[i].n; k++)
            spoken_of[grammar->parts[grammar->rows[i].first + k].symbol] = true;
    return spoken_of;
}

/* All symbols, those that are most first. */
static Symbol *sort_by_alone(const Lists *alone, guint n)
{
    enum { MOST = 1024 };
    guint32 fill[MOST + 1] = {0};
    Symbol *sorted = g_new(Symbol, n);

    for (guint i = 0; i < n; i++)
        fill[MOST - MIN(alone->at[i + 1] - alone->at[i], MOST - 1)]++;
    for (guint i = 0; i < MOST; i++)
        fill[i + 1] += fill[i];
    for (guint i = 0; i < n; i++)
        sorted[fill[MOST - 1 - MIN(alone->at[i + 1] - alone->at[i], MOST - 1)]++] = (Symbol)i;
    return sorted;
}

static Kind *number_kinds(Rules *rules, const Grammar *grammar)
{
    const Lists *alone = &grammar->alone;
    guint n = rules->entries->len;
    g_autofree bool *unnumbered = find_spoken_of(rules, grammar);
    g_autofree Symbol *sorted = sort_by_alone(alone, n);
    Kind *kinds = g_new0(Kind, n), next = 1;

    for (guint i = 0; i < n; i++)
        for (guint32 k = alone->at[sorted[i]]; k < alone->at[sorted[i] + 1]; k++) {
            guint32 symbol = alone->values[k];
            if (unnumbered[symbol]) kinds[symbol] = next++;
            unnumbered[symbol] = false;
        }
    for (guint i = 0; i < n; i++)
        if (unnumbered[i]) kinds[i] = next++;
    rules->n_kinds = next;
    return kinds;
}

/* What rows make is theirs by kind: its role, and what else it is. */
static void describe_classes(Rules *rules, const Grammar *grammar, const Kind *kinds)
{
    const Lists *alone = &grammar->alone;
    guint n = rules->entries->len;
    g_autofree Symbol *symbols = g_new0(Symbol, rules->n_kinds);
    guint32 at = 0;

    for (guint i = 0; i < n; i++)
        symbols[kinds[i]] = (Symbol)i;
    rules->role_of = g_new(gint8, rules->n_kinds);
    rules->alone_at = g_new(guint32, rules->n_kinds + 1);
    rules->alone = g_new(Kind, alone->at[n] + 1);
    for (guint kind = 0; kind < rules->n_kinds; kind++) {
        Symbol symbol = kind > 0 ? symbols[kind] : 0;
        const Entry *entry = rules_entry(rules, symbol);
        rules->role_of[kind] = symbol != 0 ? (gint8)entry->role : -1;
        rules->alone_at[kind] = at;
        for (guint32 k = alone->at[symbol]; entry->class && k < alone->at[symbol + 1]; k++)
            rules->alone[at++] = kinds[alone->values[k]];
    }
    rules->alone_at[rules->n_kinds] = at;
    rules->alone = g_renew(Kind, rules->alone, at + 1);
}

Kind *rules_kinds(Rules *rules, const Grammar *grammar)
{
    Kind *kinds = number_kinds(rules, grammar);

    describe_classes(rules, grammar, kinds);
    return kinds;
}
