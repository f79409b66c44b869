/* SPDX-License-Identifier: Apache-2.0 */
/* From a written word to a symbol. Spelling tolerance looks a word up by what is left of it when
 * letters are taken away: two words one edit apart have such a rest in common, so a lookup costs
 * the length of the word and no more. */
#include "core/talk/rules_grammar.h"

enum { SHORT = 5, LONG = 9, LONGEST = 24 };

static Symbol add(Rules *rules, GHashTable *table, const char *text, bool class, bool stem)
{
    gpointer found = g_hash_table_lookup(table, text);
    if (found != NULL) return (Symbol)GPOINTER_TO_UINT(found);
    Entry *entry = g_new0(Entry, 1);
    entry->text = g_strdup(text);
    entry->class = class;
    entry->stem = stem;
    entry->number = -1;
    entry->role = -1;
    entry->alone = g_array_new(FALSE, FALSE, sizeof(Symbol));
    entry->first = g_array_new(FALSE, FALSE, sizeof(guint));
    guint symbol = rules->entries->len;
    g_assert(symbol < G_MAXUINT16);
    g_ptr_array_add(rules->entries, entry);
    g_hash_table_insert(table, entry->text, GUINT_TO_POINTER(symbol));
    return (Symbol)symbol;
}

Symbol rules_class(Rules *rules, const char *name)
{
    return add(rules, rules->classes, name, true, false);
}

Symbol rules_word(Rules *rules, const char *folded)
{
    return add(rules, rules->words, folded, false, false);
}

Symbol rules_stem(Rules *rules, const char *folded)
{
    int length = (int)strlen(folded);

    rules->stem_min = rules->stem_min == 0 ? length : MIN(rules->stem_min, length);
    rules->stem_max = MAX(rules->stem_max, length);
    return add(rules, rules->stems, folded, false, true);
}

Entry *rules_entry(const Rules *rules, Symbol symbol)
{
    return g_ptr_array_index(rules->entries, symbol);
}

char **rules_rewrite(const Rules *rules, const char *folded)
{
    return g_hash_table_lookup(rules->rewrites, folded);
}

Symbol rules_find(const Rules *rules, const char *folded)
{
    return (Symbol)GPOINTER_TO_UINT(g_hash_table_lookup(rules->words, folded));
}

static void copy_without(char *to, const char *from, int length, int i)
{
    memcpy(to, from, (size_t)i);
    memcpy(to + i, from + i + 1, (size_t)(length - i));
}

static void index_one(Rules *rules, const char *rest, Symbol symbol)
{
    GArray *list = g_hash_table_lookup(rules->misspelt, rest);

    if (list == NULL) {
        list = g_array_new(FALSE, FALSE, sizeof(Symbol));
        g_hash_table_insert(rules->misspelt, g_strdup(rest), list);
    }
    for (guint i = 0; i < list->len; i++)
        if (g_array_index(list, Symbol, i) == symbol) return;
    g_array_append_val(list, symbol);
}

static void index_word(Rules *rules, const char *word, Symbol symbol)
{
    int length = (int)strlen(word);
    char one[LONGEST + 1], two[LONGEST + 1];

    index_one(rules, word, symbol);
    for (int i = 0; i < length; i++) {
        copy_without(one, word, length, i);
        index_one(rules, one, symbol);
        if (length < LONG) continue;
        for (int j = i; j < length - 1; j++) {
            copy_without(two, one, length - 1, j);
            index_one(rules, two, symbol);
        }
    }
}

void rules_index_misspelt(Rules *rules)
{
    for (guint i = 1; i < rules->entries->len; i++) {
        Entry *entry = rules_entry(rules, (Symbol)i);
        size_t length = strlen(entry->text);
        if (!entry->class && !entry->stem && !entry->common && length >= 4 && length <= LONGEST &&
            g_str_is_ascii(entry->text))
            index_word(rules, entry->text, (Symbol)i);
    }
}

/* Edits between two words, two neighbours swapped counting as one; more than `most` is most + 1. */
static int distance(const char *a, int m, const char *b, int n, int most)
{
    int row[3][LONGEST + 2];
    int *before = row[0], *above = row[1], *here = row[2];

    if (ABS(m - n) > most) return most + 1;
    for (int j = 0; j <= n; j++)
        above[j] = j;
    for (int i = 1; i <= m; i++) {
        here[0] = i;
        for (int j = 1; j <= n; j++) {
            int cost = a[i - 1] == b[j - 1] ? 0 : 1;
            here[j] = MIN(MIN(above[j] + 1, here[j - 1] + 1), above[j - 1] + cost);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                here[j] = MIN(here[j], before[j - 2] + 1);
        }
        int *spare = before;
        before = above;
        above = here;
        here = spare;
    }
    return above[n];
}

typedef struct {
    const char *word;
    int length;
    int most;
    int best; /* the lower the likelier */
    Symbol found;
} Search;

static void try_rest(const Rules *rules, const char *rest, Search *search)
{
    const GArray *list = g_hash_table_lookup(rules->misspelt, rest);

    for (guint i = 0; list != NULL && i < list->len; i++) {
        Symbol symbol = g_array_index(list, Symbol, i);
        const char *text = rules_entry(rules, symbol)->text;
        int length = (int)strlen(text);
        if (search->length < SHORT && length != search->length) continue;
        if (search->length >= SHORT && length < SHORT) continue;
        int edits =
            distance(search->word, search->length, text, length, length >= LONG ? search->most : 1);
        if (edits > (length >= LONG ? search->most : 1)) continue;
        bool swapped = length == search->length && edits == 1;
        int differing = 0;
        for (int k = 0; swapped && k < length; k++)
            differing += text[k] != search->word[k];
        if (search->length < SHORT && differing != 2) continue;
        int score = edits * 4 + (text[0] != search->word[0]) * 2 +
                    (text[length - 1] != search->word[search->length - 1]);
        if (score < search->best || (score == search->best && symbol < search->found)) {
            search->best = score;
            search->found = symbol;
        }
    }
}

/* "soooo" and "sooo" are "so", "yesss" is "yes": letters that were held down. */
static Symbol find_held(const Rules *rules, const char *word, int length)
{
    char once[LONGEST * 2 + 1], twice[LONGEST * 2 + 1];
    int n = 0, m = 0;
    bool held = false;

    for (int i = 0; i < length; i++) {
        bool second = i >= 1 && word[i] == word[i - 1];
        bool third = i >= 2 && second && word[i] == word[i - 2];
        held |= third;
        if (!third) twice[m++] = word[i];
        if (!second) once[n++] = word[i];
    }
    once[n] = twice[m] = '\0';
    if (!held) return 0;
    Symbol found = rules_find(rules, twice);
    return found != 0 ? found : rules_find(rules, once);
}

Symbol rules_find_misspelt(const Rules *rules, const char *folded)
{
    char one[LONGEST + 2], two[LONGEST + 2];
    int length = (int)strlen(folded);
    Search search = {folded, length, length >= LONG ? 2 : 1, G_MAXINT, 0};

    if (length < 3 || !g_str_is_ascii(folded)) return 0;
    if (length <= LONGEST * 2) {
        Symbol held = find_held(rules, folded, length);
        if (held != 0) return held;
    }
    if (length < 4 || length > LONGEST) return 0;
    try_rest(rules, folded, &search);
    for (int i = 0; i < length; i++) {
        copy_without(one, folded, length, i);
        try_rest(rules, one, &search);
        for (int j = i; length >= LONG && j < length - 1; j++) {
            copy_without(two, one, length - 1, j);
            try_rest(rules, two, &search);
        }
    }
    return search.found;
}
