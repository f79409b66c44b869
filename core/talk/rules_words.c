/* SPDX-License-Identifier: Apache-2.0 */
/* From a written word to a symbol.
 *
 * Spellings stand in one table by open addressing. */
#include "core/talk/rules_grammar.h"

static Symbol add(Rules *rules, GHashTable *table, const char *text, bool class, bool stem)
{
    gpointer found = g_hash_table_lookup(table, text);
    if (found != NULL) return (Symbol)GPOINTER_TO_UINT(found);
    rules->full |= rules->entries->len > SYMBOL_MOST;
    if (rules->full) return 0;
    Entry entry = {.text = g_strdup(text),
                   .class = class,
                   .stem = stem,
                   .number = -1,
                   .heard = -1,
                   .role = -1};
    guint symbol = rules->entries->len;
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
    g_assert(strlen(folded) <= STEM_BYTES_MOST);
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
guint32 rules_hash_on(guint32 hash, const char *text, int length)
{
    for (int i = 0; i < length; i++)
        hash = (hash ^ (guchar)text[i]) * 16777619u;
    return hash;
}

static const guint32 HASH_START = 2166136261u;

guint32 rules_hash(const char *text, int length)
{
    return rules_hash_on(HASH_START, text, length);
}

/* --- spellings */

guint32 rules_slots(guint n)
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
    guint32 slots =
        rules_slots(g_hash_table_size(rules->words) + g_hash_table_size(rules->rewrites) +
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

void rules_index(Rules *rules)
{
    index_spellings(rules);
    rules_index_near(rules);
}
