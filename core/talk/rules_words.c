/* SPDX-License-Identifier: Apache-2.0 */
/* From a written word to a symbol.
 *
 * Spellings stand in one table by open addressing. */
#include "core/talk/rules_grammar.h"

static Symbol add(Rules *rules, Names *names, const char *text, size_t length, bool class,
                  bool stem)
{
    Name *name = names_slot(names, text, length);

    if (name->value != 0) return (Symbol)name->value;
    rules->full |= rules->entries->len > SYMBOL_MOST;
    if (rules->full) return 0;
    Entry entry = {.text = g_string_chunk_insert_len(rules->texts, text, (gssize)length),
                   .class = class,
                   .stem = stem,
                   .number = -1,
                   .heard = -1,
                   .role = -1};
    guint symbol = rules->entries->len;
    g_array_append_val(rules->entries, entry);
    names_take(names, name, entry.text, symbol);
    return (Symbol)symbol;
}

Symbol rules_class(Rules *rules, const char *name, size_t length)
{
    return add(rules, &rules->draft->classes, name, length, true, false);
}

Symbol rules_word(Rules *rules, const char *folded, size_t length)
{
    return add(rules, &rules->draft->words, folded, length, false, false);
}

Symbol rules_stem(Rules *rules, const char *folded, size_t length)
{
    g_assert(length <= STEM_BYTES_MOST);
    rules->stem_lengths |= G_GUINT64_CONSTANT(1) << length;
    return add(rules, &rules->draft->stems, folded, length, false, true);
}

Symbol rules_shorter_stem(const Rules *rules, Symbol stem)
{
    const Entry *entry = rules_entry(rules, stem);

    if (!entry->stem) return 0;
    for (size_t n = strlen(entry->text) - 1; n > 0; n--) {
        if ((rules->stem_lengths >> n & 1) == 0) continue;
        Symbol found = (Symbol)names_get(&rules->draft->stems, entry->text, n);
        if (found != 0) return found;
    }
    return 0;
}

char **rules_rewrite(const Rules *rules, const char *folded, size_t length)
{
    const Rewrites *rewrites = &rules->draft->rewrites;
    guint32 known = names_get(&rewrites->at, folded, length);

    return known != 0 ? g_array_index(rewrites->list, Rewrite, known - 1).words : NULL;
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

static const char *text_of(const Rules *rules, const Spelling *spelling)
{
    return spelling->length <= SPELLING_FEW ? spelling->text.few
                                            : rules->pool->str + spelling->text.at;
}

/* What a text of that hash is found by, or NULL. */
static const Spelling *find(const Rules *rules, guint32 hash, const char *folded, int length)
{
    for (guint32 at = hash & rules->spelling_mask;; at = (at + 1) & rules->spelling_mask) {
        const Spelling *spelling = &rules->spellings[at];
        if (spelling->length == 0) return NULL;
        if (spelling->hash == hash && spelling->length == length &&
            memcmp(text_of(rules, spelling), folded, (size_t)length) == 0)
            return spelling;
    }
}

const Spelling *rules_spelling(const Rules *rules, const char *folded, int length)
{
    return find(rules, rules_hash(folded, length), folded, length);
}

Symbol rules_stem_of(const Rules *rules, const char *folded, int length)
{
    guint32 hashes[STEM_BYTES_MOST + 1];
    int most = MIN(length, STEM_BYTES_MOST);

    hashes[0] = HASH_START;
    for (int n = 0; n < most; n++)
        hashes[n + 1] = rules_hash_on(hashes[n], folded + n, 1);
    for (int n = most; n > 0; n--) {
        if ((rules->stem_lengths >> n & 1) == 0) continue;
        const Spelling *found = find(rules, hashes[n], folded, n);
        if (found != NULL && found->own != 0) return found->own;
    }
    return 0;
}

Symbol rules_stem_for(const Rules *rules, Symbol word)
{
    const Entry *entry = rules_entry(rules, word);

    return entry->apart ? 0 : rules_stem_of(rules, entry->text, (int)strlen(entry->text));
}

static Spelling *spelling_of(Rules *rules, const char *text)
{
    int length = (int)strlen(text);
    guint32 hash = rules_hash(text, length), at = hash & rules->spelling_mask;
    const Spelling *found = find(rules, hash, text, length);

    if (found != NULL) return rules->spellings + (found - rules->spellings);
    while (rules->spellings[at].length != 0)
        at = (at + 1) & rules->spelling_mask;
    Spelling *spelling = &rules->spellings[at];
    *spelling = (Spelling){.hash = hash, .length = (guint16)length};
    if (length <= SPELLING_FEW) {
        memcpy(spelling->text.few, text, (size_t)length);
    } else {
        spelling->text.at = (guint32)rules->pool->len;
        g_string_append_len(rules->pool, text, length);
    }
    return spelling;
}

/* A stem may begin with a shorter one, and is a spelling like any other. */
static void set_stems(Rules *rules)
{
    for (guint32 i = 0; i <= rules->spelling_mask; i++) {
        Spelling *spelling = &rules->spellings[i];
        if (spelling->length > 0 && spelling->word != 0)
            spelling->stem = rules_stem_for(rules, spelling->word);
        else if (spelling->length > 0)
            spelling->stem = rules_stem_of(rules, text_of(rules, spelling), spelling->length);
    }
}

/* Adds a count and the symbols of words; where they begin. */
static guint32 put_others(const Rules *rules, char **words, GArray *others)
{
    guint32 at = others->len, n = g_strv_length(words);

    g_array_append_val(others, n);
    for (; *words != NULL; words++) {
        guint32 symbol = names_get(&rules->draft->words, *words, strlen(*words));
        Symbol stem = symbol != 0 ? rules_stem_for(rules, (Symbol)symbol)
                                  : rules_stem_of(rules, *words, (int)strlen(*words));
        guint32 both = symbol | (guint32)stem << 16;
        g_array_append_val(others, both);
    }
    return at;
}

static void index_words(Rules *rules)
{
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        if (entry->class || *entry->text == '\0') continue;
        Spelling *spelling = spelling_of(rules, entry->text);
        *(entry->stem ? &spelling->own : &spelling->word) = (Symbol)i;
    }
}

static void index_others(Rules *rules)
{
    g_autoptr(GArray) others = g_array_new(FALSE, TRUE, sizeof(guint32));
    const GArray *rewrites = rules->draft->rewrites.list, *tails = rules->draft->tails.list;

    g_array_set_size(others, 1);
    for (guint i = 0; i < rewrites->len; i++) {
        const Rewrite *rewrite = &g_array_index(rewrites, Rewrite, i);
        if (*rewrite->text != '\0' && rewrite->words[0] != NULL)
            spelling_of(rules, rewrite->text)->others = put_others(rules, rewrite->words, others);
    }
    rules->endings = g_new0(Ending, tails->len + 1);
    for (guint i = 0; i < tails->len; i++) {
        const Rewrite *tail = &g_array_index(tails, Rewrite, i);
        rules->endings[rules->n_endings++] =
            (Ending){tail->text, (int)strlen(tail->text), put_others(rules, tail->words, others)};
    }
    rules->others = g_memdup2(others->data, sizeof(guint32) * others->len);
}

static void index_spellings(Rules *rules)
{
    const Draft *draft = rules->draft;
    guint32 slots = rules_slots(draft->words.n + draft->stems.n + draft->rewrites.list->len);

    rules->spelling_mask = slots - 1;
    rules->spellings = g_aligned_alloc0(slots, sizeof(Spelling), sizeof(Spelling));
    rules->pool = g_string_new(NULL);
    index_words(rules);
    index_others(rules);
    set_stems(rules);
}

void rules_index(Rules *rules)
{
    index_spellings(rules);
    rules_index_near(rules);
    rules_index_sounds(rules);
}
