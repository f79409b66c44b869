/* SPDX-License-Identifier: Apache-2.0 */
/* From a written word to a symbol.
 *
 * Spellings stand in one table by open addressing. Spelling tolerance looks a word up by what is left
 * of it when letters are taken away: two words one edit apart have such a rest in common, so that a
 * lookup costs the length of the word and no more. Of the rests only their hashes are kept; whether
 * a word that is found is near enough is measured. */
#include "core/talk/rules_grammar.h"

enum { SHORT = 5, LONG = 9, LONGEST = 24, FILTER_BITS = 1 << 19 };

static Symbol add(Rules *rules, GHashTable *table, const char *text, bool class, bool stem)
{
    gpointer found = g_hash_table_lookup(table, text);
    if (found != NULL) return (Symbol)GPOINTER_TO_UINT(found);
    Entry entry = {.text = g_strdup(text),
                   .class = class,
                   .stem = stem,
                   .number = -1,
                   .heard = -1,
                   .role = -1};
    guint symbol = rules->entries->len;
    g_assert(symbol < G_MAXUINT16);
    g_array_append_val(rules->entries, entry);
    g_hash_table_insert(table, entry.text, GUINT_TO_POINTER(symbol));
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
    g_assert(strlen(folded) < 64);
    rules->stem_lengths |= G_GUINT64_CONSTANT(1) << strlen(folded);
    return add(rules, rules->stems, folded, false, true);
}

Symbol rules_shorter_stem(const Rules *rules, Symbol stem)
{
    const Entry *entry = rules_entry(rules, stem);
    g_autofree char *text = g_strdup(entry->stem ? entry->text : "");

    for (size_t n = strlen(text); n > 1; n--) {
        text[n - 1] = '\0';
        gpointer found = g_hash_table_lookup(rules->stems, text);
        if (found != NULL) return (Symbol)GPOINTER_TO_UINT(found);
    }
    return 0;
}

Entry *rules_entry(const Rules *rules, Symbol symbol)
{
    return &g_array_index(rules->entries, Entry, symbol);
}

char **rules_rewrite(const Rules *rules, const char *folded)
{
    return g_hash_table_lookup(rules->rewrites, folded);
}

/* FNV-1a, 32 bits (draft-eastlake-fnv, section 2). */
static guint32 hash_on(guint32 hash, const char *text, int length)
{
    for (int i = 0; i < length; i++)
        hash = (hash ^ (guchar)text[i]) * 16777619u;
    return hash;
}

static const guint32 HASH_START = 2166136261u;

guint32 rules_hash(const char *text, int length)
{
    return hash_on(HASH_START, text, length);
}

/* --- spellings */

static guint32 slots_for(guint n)
{
    guint32 slots = 64;

    while (slots < n * 2)
        slots *= 2;
    return slots;
}

const Spelling *rules_spelling(const Rules *rules, const char *folded, int length)
{
    guint32 hash = rules_hash(folded, length);

    for (guint32 at = hash & rules->spelling_mask;; at = (at + 1) & rules->spelling_mask) {
        const Spelling *spelling = &rules->spellings[at];
        if (spelling->length == 0) return NULL;
        if (spelling->hash == hash && spelling->length == length &&
            memcmp(rules->pool->str + spelling->text, folded, (size_t)length) == 0)
            return spelling;
    }
}

Symbol rules_stem_of(const Rules *rules, const char *folded, int length)
{
    for (guint64 left = rules->stem_lengths; left != 0;) {
        int n = 63 - __builtin_clzll(left);
        left &= ~(G_GUINT64_CONSTANT(1) << n);
        const Spelling *found = n <= length ? rules_spelling(rules, folded, n) : NULL;
        if (found != NULL && found->own != 0) return found->own;
    }
    return 0;
}

static Spelling *spelling_put(Rules *rules, const char *text)
{
    int length = (int)strlen(text);
    guint32 hash = rules_hash(text, length), at = hash & rules->spelling_mask;

    while (rules->spellings[at].length != 0)
        at = (at + 1) & rules->spelling_mask;
    rules->spellings[at] = (Spelling){.hash = hash,
                                      .text = (guint32)rules->pool->len,
                                      .length = (guint16)length,
                                      .stem = rules_stem_of(rules, text, length)};
    g_string_append(rules->pool, text);
    return &rules->spellings[at];
}

static Spelling *spelling_of(Rules *rules, const char *text)
{
    const Spelling *found = rules_spelling(rules, text, (int)strlen(text));

    return found != NULL ? rules->spellings + (found - rules->spellings)
                         : spelling_put(rules, text);
}

/* A stem may begin with a shorter one, and is a spelling like any other. */
static void set_stems(Rules *rules)
{
    for (guint32 i = 0; i <= rules->spelling_mask; i++) {
        Spelling *spelling = &rules->spellings[i];
        if (spelling->length > 0)
            spelling->stem =
                rules_stem_of(rules, rules->pool->str + spelling->text, spelling->length);
    }
}

/* Adds a count and the symbols of words; where they begin. */
static guint32 put_others(const Rules *rules, char **words, GArray *others)
{
    guint32 at = others->len, n = g_strv_length(words);

    g_array_append_val(others, n);
    for (; *words != NULL; words++) {
        guint32 symbol = GPOINTER_TO_UINT(g_hash_table_lookup(rules->words, *words));
        guint32 both = symbol | (guint32)rules_stem_of(rules, *words, (int)strlen(*words)) << 16;
        g_array_append_val(others, both);
    }
    return at;
}

static void index_spellings(Rules *rules)
{
    g_autoptr(GArray) others = g_array_new(FALSE, TRUE, sizeof(guint32));
    GHashTableIter iter;
    gpointer key, value;
    guint32 slots = slots_for(g_hash_table_size(rules->words) + g_hash_table_size(rules->rewrites) +
                              g_hash_table_size(rules->stems));

    rules->spelling_mask = slots - 1;
    rules->spellings = g_new0(Spelling, slots);
    rules->pool = g_string_new(NULL);
    g_array_set_size(others, 1);
    g_hash_table_iter_init(&iter, rules->stems);
    while (g_hash_table_iter_next(&iter, &key, &value))
        spelling_of(rules, key)->own = (Symbol)GPOINTER_TO_UINT(value);
    set_stems(rules);
    g_hash_table_iter_init(&iter, rules->words);
    while (g_hash_table_iter_next(&iter, &key, &value))
        if (*(const char *)key != '\0')
            spelling_of(rules, key)->word = (Symbol)GPOINTER_TO_UINT(value);
    g_hash_table_iter_init(&iter, rules->rewrites);
    while (g_hash_table_iter_next(&iter, &key, &value))
        if (*(const char *)key != '\0' && *(char **)value != NULL)
            spelling_of(rules, key)->others = put_others(rules, value, others);
    rules->endings = g_new0(Ending, g_hash_table_size(rules->tails) + 1);
    g_hash_table_iter_init(&iter, rules->tails);
    while (g_hash_table_iter_next(&iter, &key, &value))
        rules->endings[rules->n_endings++] =
            (Ending){g_strdup(key), (int)strlen(key), put_others(rules, value, others)};
    rules->others = g_memdup2(others->data, sizeof(guint32) * others->len);
}

/* --- spelling tolerance */

typedef struct {
    guint32 hash;
    guint32 symbol;
} Near;

static void near_put(GArray *nears, guint32 hash, guint32 symbol)
{
    Near near = {hash, symbol};

    g_array_append_val(nears, near);
}

/* The hash of a word without its letters i and j (i before j; j past the end for none). */
static guint32 hash_without(const char *word, int length, int i, int j)
{
    guint32 hash = hash_on(HASH_START, word, i);

    if (j >= length) return hash_on(hash, word + i + 1, length - i - 1);
    hash = hash_on(hash, word + i + 1, j - i - 1);
    return hash_on(hash, word + j + 1, length - j - 1);
}

static void near_put_word(GArray *nears, const char *word, guint32 symbol)
{
    int length = (int)strlen(word);

    near_put(nears, rules_hash(word, length), symbol);
    for (int i = 0; i < length; i++) {
        near_put(nears, hash_without(word, length, i, length), symbol);
        for (int j = i + 1; length >= LONG && j < length; j++)
            near_put(nears, hash_without(word, length, i, j), symbol);
    }
}

static int by_hash(const void *a, const void *b)
{
    const Near *x = a, *y = b;

    if (x->hash != y->hash) return x->hash < y->hash ? -1 : 1;
    return (x->symbol > y->symbol) - (x->symbol < y->symbol);
}

/* All that have one hash, each once: a count and the symbols. The number of entries read. */
static guint near_list(const GArray *nears, guint from, GArray *all)
{
    const Near *first = &g_array_index(nears, Near, from);
    guint32 count = 0, at = all->len;
    guint read = 0;

    g_array_append_val(all, count);
    for (; from + read < nears->len && first[read].hash == first->hash; read++) {
        if (read > 0 && first[read].symbol == first[read - 1].symbol) continue;
        g_array_append_val(all, first[read].symbol);
        count++;
    }
    g_array_index(all, guint32, at) = count;
    return read;
}

static void flatten_near(Rules *rules, const GArray *nears)
{
    g_autoptr(GArray) all = g_array_new(FALSE, TRUE, sizeof(guint32));
    guint32 slots = slots_for(nears->len);

    rules->near_mask = slots - 1;
    rules->near_slots = g_new0(NearSlot, slots);
    rules->near_filter = g_new0(guint64, FILTER_BITS / 64);
    g_array_set_size(all, 1);
    for (guint i = 0; i < nears->len;) {
        guint32 hash = g_array_index(nears, Near, i).hash, at = hash & rules->near_mask;
        while (rules->near_slots[at].first != 0)
            at = (at + 1) & rules->near_mask;
        rules->near_slots[at] = (NearSlot){hash, all->len};
        rules->near_filter[hash % FILTER_BITS / 64] |= G_GUINT64_CONSTANT(1) << (hash % 64);
        i += near_list(nears, i, all);
    }
    rules->near = g_new(guint32, all->len);
    if (all->len > 0) memcpy(rules->near, all->data, sizeof(guint32) * all->len);
}

static void index_near(Rules *rules)
{
    g_autoptr(GArray) nears = g_array_new(FALSE, FALSE, sizeof(Near));

    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        size_t length = strlen(entry->text);
        if (!entry->class && !entry->stem && !entry->common && length >= 4 && length <= LONGEST &&
            g_str_is_ascii(entry->text))
            near_put_word(nears, entry->text, i);
    }
    qsort(nears->data, nears->len, sizeof(Near), by_hash);
    flatten_near(rules, nears);
}

void rules_index(Rules *rules)
{
    index_spellings(rules);
    index_near(rules);
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

static void try_word(const Rules *rules, Symbol symbol, Search *search)
{
    const char *text = rules_entry(rules, symbol)->text;
    int length = (int)strlen(text), differing = 0;

    if (search->length < SHORT && length != search->length) return;
    if (search->length >= SHORT && length < SHORT) return;
    int most = length >= LONG ? search->most : 1;
    int edits = distance(search->word, search->length, text, length, most);
    if (edits > most) return;
    for (int k = 0; length == search->length && edits == 1 && k < length; k++)
        differing += text[k] != search->word[k];
    if (search->length < SHORT && differing != 2) return;
    int score = edits * 4 + (text[0] != search->word[0]) * 2 +
                (text[length - 1] != search->word[search->length - 1]);
    if (score < search->best || (score == search->best && symbol < search->found)) {
        search->best = score;
        search->found = symbol;
    }
}

static void try_rest(const Rules *rules, guint32 hash, Search *search)
{
    if ((rules->near_filter[hash % FILTER_BITS / 64] >> (hash % 64) & 1) == 0) return;
    for (guint32 at = hash & rules->near_mask; rules->near_slots[at].first != 0;
         at = (at + 1) & rules->near_mask) {
        if (rules->near_slots[at].hash != hash) continue;
        const guint32 *list = rules->near + rules->near_slots[at].first;
        for (guint32 i = 1; i <= list[0]; i++)
            try_word(rules, (Symbol)list[i], search);
        return;
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
    if (!held) return 0;
    const Spelling *found = rules_spelling(rules, twice, m);
    if (found == NULL || found->word == 0) found = rules_spelling(rules, once, n);
    return found != NULL ? found->word : 0;
}

Symbol rules_near(const Rules *rules, const char *folded, int length)
{
    Search search = {folded, length, length >= LONG ? 2 : 1, G_MAXINT, 0};

    if (length < 3) return 0;
    for (int i = 0; i < length; i++)
        if ((guchar)folded[i] >= 0x80) return 0;
    if (length <= LONGEST * 2) {
        Symbol held = find_held(rules, folded, length);
        if (held != 0) return held;
    }
    if (length < 4 || length > LONGEST) return 0;
    try_rest(rules, rules_hash(folded, length), &search);
    for (int i = 0; i < length; i++) {
        try_rest(rules, hash_without(folded, length, i, length), &search);
        for (int j = i + 1; length >= LONG && j < length; j++)
            try_rest(rules, hash_without(folded, length, i, j), &search);
    }
    return search.found;
}
