/* SPDX-License-Identifier: Apache-2.0 */
/* Spelling tolerance.
 *
 * A word is looked up by what is left of it when letters are taken away: two words one edit apart
 * have such a rest in common, so that a lookup costs the length of the word and no more. Of the
 * rests only their hashes are kept; whether a word that is found is near enough is measured. */
#include "core/talk/rules_grammar.h"

enum { SHORT = 5, LONG = 9, LONGEST = 24, FILTER_BITS = 1 << 19 };
enum { BUCKET_BITS = 15, BUCKETS = 1 << BUCKET_BITS };
enum { RESTS_MOST = 1 + LONGEST + LONGEST * (LONGEST - 1) / 2 };

static guint32 bucket_of(guint32 hash)
{
    return hash >> (32 - BUCKET_BITS);
}

static guint32 mix(guint32 hash)
{
    hash = (hash ^ hash >> 15) * 0x2C1B3C6Du;
    return hash ^ hash >> 13;
}

/* The hashes of a word of LONGEST letters at most, and of what is left of it without one or two of them; how many. As powers of a
 * base they are put together of those of its parts, whatever their length. */
static guint rests(const char *word, int length, guint32 hashes[RESTS_MOST])
{
    const guint32 base = 16777619u;
    guint32 until[LONGEST + 1] = {0}, power[LONGEST + 1] = {1};
    guint n = 0;

    for (int i = 0; i < length; i++) {
        until[i + 1] = until[i] * base + (guchar)word[i];
        power[i + 1] = power[i] * base;
    }
    hashes[n++] = mix(until[length]);
    for (int i = 0; i < length; i++) {
        guint32 less =
            until[i + 1] - until[i]; /* what is taken from all that goes on behind letter i */
        hashes[n++] = mix(until[length] - less * power[length - i - 1]);
        for (int j = i + 1; length >= LONG && j < length; j++) {
            guint32 first = until[j] - less * power[j - i - 1];
            hashes[n++] = mix(first * power[length - j - 1] + until[length] -
                              until[j + 1] * power[length - j - 1]);
        }
    }
    return n;
}

/* Puts the rests of all targets by the first bits of their hashes, each bucket in the order of the targets. */
static void put_rests(Rules *rules)
{
    g_autofree guint32 *fill = g_new0(guint32, BUCKETS + 1);
    guint32 hashes[RESTS_MOST];

    for (guint i = 0; i < rules->targets->len; i++) {
        const char *word = rules->targets->pdata[i];
        guint n = word != NULL ? rests(word, (int)strlen(word), hashes) : 0;
        for (guint k = 0; k < n; k++)
            fill[bucket_of(hashes[k]) + 1]++;
    }
    for (guint b = 0; b < BUCKETS; b++)
        fill[b + 1] += fill[b];
    rules->near_at = g_memdup2(fill, sizeof(guint32) * (BUCKETS + 1));
    rules->near = g_new(Near, fill[BUCKETS] + 1);
    rules->near_filter = g_new0(guint64, FILTER_BITS / 64);
    for (guint i = 0; i < rules->targets->len; i++) {
        const char *word = rules->targets->pdata[i];
        guint n = word != NULL ? rests(word, (int)strlen(word), hashes) : 0;
        for (guint k = 0; k < n; k++) {
            guint32 hash = hashes[k];
            rules->near[fill[bucket_of(hash)]++] = (Near){hash, i};
            rules->near_filter[hash % FILTER_BITS / 64] |= G_GUINT64_CONSTANT(1) << (hash % 64);
        }
    }
}

static bool is_long_enough(const char *text)
{
    size_t length = strlen(text);

    return length >= 4 && length <= LONGEST && g_str_is_ascii(text);
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* What may be meant by a word that nobody knows: words by their symbols, then, in the order of their letters, what stands for
 * several ("couldnt"). */
static void find_targets(Rules *rules)
{
    const GArray *rewrites = rules->draft->rewrites.list;

    rules->targets = g_ptr_array_new();
    for (guint i = 0; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        bool meant = i > 0 && !entry->class && !entry->stem && !entry->common;
        bool target = meant && is_long_enough(entry->text);
        g_ptr_array_add(rules->targets, target ? (gpointer)entry->text : NULL);
    }
    for (guint i = 0; i < rewrites->len; i++) {
        const Rewrite *rewrite = &g_array_index(rewrites, Rewrite, i);
        if (g_strv_length(rewrite->words) > 1 && is_long_enough(rewrite->text))
            g_ptr_array_add(rules->targets, (gpointer)rewrite->text);
    }
    qsort(rules->targets->pdata + rules->entries->len, rules->targets->len - rules->entries->len,
          sizeof(gpointer), by_text);
}

void rules_index_near(Rules *rules)
{
    find_targets(rules);
    put_rests(rules);
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
    int best;      /* the lower the likelier */
    guint32 found; /* of Rules.targets, 0 for none */
} Search;

static void try_word(const Rules *rules, guint32 target, Search *search)
{
    const char *text = rules->targets->pdata[target];
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
    if (score < search->best || (score == search->best && target < search->found)) {
        search->best = score;
        search->found = target;
    }
}

static void try_rest(const Rules *rules, guint32 hash, Search *search)
{
    if ((rules->near_filter[hash % FILTER_BITS / 64] >> (hash % 64) & 1) == 0) return;
    const guint32 *at = &rules->near_at[bucket_of(hash)];
    for (guint32 i = at[0]; i < at[1]; i++)
        if (rules->near[i].hash == hash) try_word(rules, rules->near[i].target, search);
}

Symbol rules_held(const Rules *rules, const char *word, int length)
{
    char once[LONGEST * 2 + 1], twice[LONGEST * 2 + 1];
    int n = 0, m = 0;
    bool held = false;

    if (length < 3 || length > LONGEST * 2) return 0;
    for (int i = 0; i < length; i++) {
        bool second = i >= 1 && word[i] == word[i - 1];
        bool third = i >= 2 && second && word[i] == word[i - 2];
        held |= third;
        if ((guchar)word[i] >= 0x80) return 0;
        if (!third) twice[m++] = word[i];
        if (!second) once[n++] = word[i];
    }
    if (!held) return 0;
    const Spelling *found = rules_spelling(rules, twice, m);
    if (found == NULL || found->word == 0) found = rules_spelling(rules, once, n);
    return found != NULL ? found->word : 0;
}

const Spelling *rules_near(const Rules *rules, const char *folded, int length)
{
    Search search = {folded, length, length >= LONG ? 2 : 1, G_MAXINT, 0};

    guint32 hashes[RESTS_MOST];

    if (length < 4 || length > LONGEST) return NULL;
    for (int i = 0; i < length; i++)
        if ((guchar)folded[i] >= 0x80) return NULL;
    guint n = rests(folded, length, hashes);
    for (guint i = 0; i < n; i++)
        try_rest(rules, hashes[i], &search);
    if (search.found == 0) return NULL;
    const char *meant = rules->targets->pdata[search.found];
    return rules_spelling(rules, meant, (int)strlen(meant));
}
