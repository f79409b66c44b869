/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/rules.h"

#include "core/talk/reading_fold.h"
#include "core/talk/rules_grammar.h"

static void entry_clear(gpointer data)
{
    g_free(((Entry *)data)->text);
}

static Rules *rules_new(void)
{
    Rules *rules = g_new0(Rules, 1);

    rules->entries = g_array_new(FALSE, TRUE, sizeof(Entry));
    g_array_set_clear_func(rules->entries, entry_clear);
    g_array_set_size(rules->entries, 1);
    rules->words = g_hash_table_new(g_str_hash, g_str_equal);
    rules->stems = g_hash_table_new(g_str_hash, g_str_equal);
    rules->classes = g_hash_table_new(g_str_hash, g_str_equal);
    rules->rewrites =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_strfreev);
    rules->tails =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_strfreev);
    rules->spoken = g_hash_table_new(NULL, NULL);
    rules->written = g_array_new(FALSE, FALSE, sizeof(Pattern));
    rules->number = rules_class(rules, "#");
    rules->year = rules_class(rules, "####");
    return rules;
}

void rules_free(Rules *rules)
{
    if (rules == NULL) return;
    g_hash_table_unref(rules->words);
    g_hash_table_unref(rules->stems);
    g_hash_table_unref(rules->classes);
    g_hash_table_unref(rules->rewrites);
    g_hash_table_unref(rules->tails);
    for (guint i = 0; i < rules->n_endings; i++)
        g_free(rules->endings[i].text);
    g_free(rules->endings);
    g_hash_table_unref(rules->spoken);
    for (int kind = 0; kind < CUT_KINDS; kind++)
        if (rules->cut[kind] != NULL) g_ptr_array_unref(rules->cut[kind]);
    if (rules->written != NULL) g_array_unref(rules->written);
    g_array_unref(rules->entries);
    g_free(rules->rows);
    g_free(rules->elements);
    g_free(rules->alone);
    g_free(rules->known);
    g_free(rules->waking);
    g_free(rules->traits);
    g_free(rules->needs);
    g_free(rules->anchors);
    g_free(rules->anchor_at);
    g_free(rules->spellings);
    if (rules->pool != NULL) g_string_free(rules->pool, TRUE);
    g_free(rules->others);
    g_free(rules->near_at);
    g_free(rules->near_filter);
    g_free(rules->near);
    if (rules->targets != NULL) g_ptr_array_unref(rules->targets);
    g_free(rules);
}

static json_t *object_part(json_t *tree, const char *pointer, const char *key, Faults *faults)
{
    json_t *part = json_object_get(tree, key);

    if (part != NULL && !json_is_object(part)) {
        g_autofree char *at = g_strdup_printf("%s/%s", pointer, key);
        fault_add(faults, at, "", "must be a table of names and values");
        return NULL;
    }
    return part;
}

/* "can't" is also written cant, unless the pack says what that is. */
static void add_plain_rewrites(Rules *rules)
{
    g_autoptr(GPtrArray) keys = g_ptr_array_new();
    GHashTableIter iter;
    gpointer key, words;

    g_hash_table_iter_init(&iter, rules->rewrites);
    while (g_hash_table_iter_next(&iter, &key, &words))
        if (strchr(key, '\'') != NULL) g_ptr_array_add(keys, key);
    for (guint i = 0; i < keys->len; i++) {
        g_auto(GStrv) parts = g_strsplit(g_ptr_array_index(keys, i), "'", -1);
        char *plain = g_strjoinv("", parts);
        if (g_hash_table_contains(rules->rewrites, plain))
            g_free(plain);
        else
            g_hash_table_insert(
                rules->rewrites, plain,
                g_strdupv(g_hash_table_lookup(rules->rewrites, g_ptr_array_index(keys, i))));
    }
}

/* A table from a spelling to the words that it stands for. */
static void read_words(json_t *tree, const char *pointer, const char *name, Faults *faults,
                       GHashTable *table)
{
    json_t *part = object_part(tree, pointer, name, faults), *value;
    const char *key;

    json_object_foreach(part, key, value)
    {
        if (!json_is_string(value) || *key == '\0') {
            g_autofree char *at = g_strdup_printf("%s/%s/%s", pointer, name, key);
            fault_add(faults, at, "", "must be the words that it stands for");
            continue;
        }
        g_autofree char *folded = fold_word(json_string_value(value));
        g_hash_table_replace(table, fold_word(key), g_strsplit(folded, " ", -1));
    }
}

static void read_numbers(Rules *rules, json_t *tree, const char *pointer, const char *name,
                         Faults *faults)
{
    json_t *part = object_part(tree, pointer, name, faults), *value;
    const char *key;

    json_object_foreach(part, key, value)
    {
        g_autofree char *folded = fold_word(key);
        if (!json_is_number(value) || json_number_value(value) < 0 ||
            json_number_value(value) > 1000) {
            g_autofree char *at = g_strdup_printf("%s/%s/%s", pointer, name, key);
            fault_add(faults, at, "", "must be a number of 0 to 1000");
            continue;
        }
        Entry *entry = rules_entry(rules, rules_word(rules, folded));
        *(strcmp(name, "numbers") == 0 ? &entry->number : &entry->heard) = json_number_value(value);
    }
}

/* Every string of a list, or one string, with its pointer. */
static void each_text(json_t *list, const char *pointer, Faults *faults,
                      void (*visit)(Rules *, Symbol, const char *, Faults *, const char *),
                      Rules *rules, Symbol class)
{
    size_t i;
    json_t *item;

    if (json_is_string(list)) {
        visit(rules, class, json_string_value(list), faults, pointer);
        return;
    }
    if (!json_is_array(list)) {
        if (list != NULL && !json_is_null(list))
            fault_add(faults, pointer, "", "must be a list of words or patterns");
        return;
    }
    json_array_foreach(list, i, item)
    {
        g_autofree char *at = g_strdup_printf("%s/%zu", pointer, i);
        g_autofree char *digits = json_is_integer(item) ? g_strdup_printf("%" JSON_INTEGER_FORMAT,
                                                                          json_integer_value(item))
                                                        : NULL;
        const char *text = digits != NULL ? digits : json_string_value(item);
        if (text == NULL)
            fault_add(faults, at, "", "must be a word or a pattern");
        else
            visit(rules, class, text, faults, at);
    }
}

static void add_weak(Rules *rules, Symbol class, const char *text, Faults *faults,
                     const char *pointer)
{
    g_autofree char *folded = fold_word(text);

    (void)class;
    (void)faults;
    (void)pointer;
    rules_entry(rules, rules_word(rules, folded))->weak = true;
}

/* An item may hold several words with spaces between. */
static void add_common(Rules *rules, Symbol class, const char *text, Faults *faults,
                       const char *pointer)
{
    g_autofree char *folded = fold_word(text);
    g_auto(GStrv) words = g_strsplit(folded, " ", -1);

    (void)class;
    (void)faults;
    (void)pointer;
    for (char **word = words; *word != NULL; word++)
        if (**word != '\0' && !g_hash_table_contains(rules->words, *word))
            rules_entry(rules, rules_word(rules, *word))->common = true;
}

/* Words of dictation: {full stop: "."}. */
static void read_spoken(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    json_t *part = object_part(tree, pointer, "spoken", faults), *value;
    const char *key;

    json_object_foreach(part, key, value)
    {
        g_autofree char *folded = fold_word(key);
        g_auto(GStrv) words = g_strsplit(folded, " ", -1);
        const char *mark = json_string_value(value);
        if (g_strv_length(words) > 2 || mark == NULL || strlen(mark) != 1 ||
            strchr(".,?!-/", *mark) == NULL) {
            g_autofree char *at = g_strdup_printf("%s/spoken/%s", pointer, key);
            fault_add(faults, at, mark, "must be one or two words for one of . , ? ! - /");
            continue;
        }
        guint32 code = rules_word(rules, words[0]);
        if (words[1] != NULL) code |= (guint32)rules_word(rules, words[1]) << 16;
        g_hash_table_insert(rules->spoken, GUINT_TO_POINTER(code), GINT_TO_POINTER(*mark));
        rules_entry(rules, code & G_MAXUINT16)->spoken = true;
    }
}

static void read_classes(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    json_t *part = object_part(tree, pointer, "classes", faults), *value;
    const char *key;

    json_object_foreach(part, key, value) rules_class(rules, key);
    for (int role = 0; role < ROLE_COUNT; role++) {
        if (json_object_get(part, rules_role_name((Role)role)) == NULL) {
            g_autofree char *at = g_strdup_printf("%s/classes", pointer);
            fault_add(faults, at, rules_role_name((Role)role),
                      "this class is missing; it may be an empty list");
        }
        rules->role[role] = rules_class(rules, rules_role_name((Role)role));
        rules_entry(rules, rules->role[role])->role = role;
    }
    json_object_foreach(part, key, value)
    {
        g_autofree char *at = g_strdup_printf("%s/classes/%s", pointer, key);
        each_text(value, at, faults, rules_add_pattern, rules, rules_class(rules, key));
    }
}

Rules *rules_read(json_t *tree, const char *pointer, Faults *faults)
{
    static const char *const KEYS[] = {"apostrophe", "decimal_comma", "rewrite",       "endings",
                                       "numbers",    "weak_numbers",  "common",        "classes",
                                       "spoken",     "cut",           "heard_numbers", NULL};
    guint before = faults->items->len;
    g_autoptr(Rules) rules = rules_new();

    if (!json_is_object(tree)) {
        fault_add(faults, pointer, "", "must be a table");
        return NULL;
    }
    fault_unknown_keys(faults, pointer, tree, KEYS);
    const char *apostrophe = fault_text(faults, pointer, tree, "apostrophe", true);
    if (apostrophe != NULL && strcmp(apostrophe, "drop") != 0 && strcmp(apostrophe, "split") != 0) {
        g_autofree char *at = g_strdup_printf("%s/apostrophe", pointer);
        fault_add(faults, at, apostrophe, "must be drop or split");
    }
    rules->apostrophe_splits = g_strcmp0(apostrophe, "split") == 0;
    rules->decimal_comma = fault_bool(faults, pointer, tree, "decimal_comma", false);
    read_words(tree, pointer, "rewrite", faults, rules->rewrites);
    if (!rules->apostrophe_splits) add_plain_rewrites(rules);
    read_words(tree, pointer, "endings", faults, rules->tails);
    read_numbers(rules, tree, pointer, "numbers", faults);
    read_numbers(rules, tree, pointer, "heard_numbers", faults);
    g_autofree char *weak = g_strdup_printf("%s/weak_numbers", pointer);
    each_text(json_object_get(tree, "weak_numbers"), weak, faults, add_weak, rules, 0);
    read_spoken(rules, tree, pointer, faults);
    rules_read_cut(rules, tree, pointer, faults);
    read_classes(rules, tree, pointer, faults);
    g_autofree char *common = g_strdup_printf("%s/common", pointer);
    each_text(json_object_get(tree, "common"), common, faults, add_common, rules, 0);
    const char *ring = rules_order(rules);
    if (ring != NULL) {
        g_autofree char *at = g_strdup_printf("%s/classes/%s", pointer, ring);
        fault_add(faults, at, ring, "is made of itself");
    }
    if (rules->full)
        fault_add(faults, pointer, "", "has more than %d words and classes", SYMBOL_MOST);
    if (faults->items->len != before) return NULL;
    rules_index(rules);
    g_clear_pointer(&rules->written, g_array_unref);
    return g_steal_pointer(&rules);
}
