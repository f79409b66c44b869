/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/rules.h"

#include "core/talk/reading_fold.h"
#include "core/talk/rules_grammar.h"

/* Room for what a large pack comes to, so that nothing is copied as it grows; where nothing is written there is no memory. */
enum { ENTRIES_ROOM = 24 * 1024, ROWS_ROOM = 64 * 1024, PARTS_ROOM = 96 * 1024 };

static void rewrite_clear(gpointer data)
{
    g_strfreev(((Rewrite *)data)->words);
}

static void rewrites_init(Rewrites *rewrites)
{
    rewrites->list = g_array_new(FALSE, FALSE, sizeof(Rewrite));
    g_array_set_clear_func(rewrites->list, rewrite_clear);
}

static void rewrites_clear(Rewrites *rewrites)
{
    g_array_unref(rewrites->list);
    names_clear(&rewrites->at);
}

static Draft *draft_new(void)
{
    Draft *draft = g_new0(Draft, 1);

    rewrites_init(&draft->rewrites);
    rewrites_init(&draft->tails);
    draft->written = g_new(Written, draft->written_room = ROWS_ROOM);
    draft->parts = g_new(Part, draft->parts_room = PARTS_ROOM);
    return draft;
}

static void draft_free(Draft *draft)
{
    names_clear(&draft->words);
    names_clear(&draft->stems);
    names_clear(&draft->classes);
    rewrites_clear(&draft->rewrites);
    rewrites_clear(&draft->tails);
    g_free(draft->written);
    g_free(draft->parts);
    g_free(draft);
}

static Rules *rules_new(void)
{
    Rules *rules = g_new0(Rules, 1);

    rules->entries = g_array_sized_new(FALSE, TRUE, sizeof(Entry), ENTRIES_ROOM);
    g_array_set_size(rules->entries, 1);
    rules->texts = g_string_chunk_new(8192);
    rules->draft = draft_new();
    rules->spoken = g_hash_table_new(NULL, NULL);
    rules->number = rules_class(rules, "#", 1);
    rules->year = rules_class(rules, "####", 4);
    return rules;
}

void rules_free(Rules *rules)
{
    if (rules == NULL) return;
    if (rules->draft != NULL) draft_free(rules->draft);
    g_free(rules->endings);
    g_hash_table_unref(rules->spoken);
    for (int kind = 0; kind < CUT_KINDS; kind++)
        if (rules->cut[kind] != NULL) g_ptr_array_unref(rules->cut[kind]);
    g_array_unref(rules->entries);
    g_string_chunk_free(rules->texts);
    g_free(rules->rows);
    g_free(rules->elements);
    g_free(rules->alone);
    g_free(rules->alone_at);
    g_free(rules->role_of);
    g_free(rules->anchors);
    g_free(rules->anchor_at);
    g_free(rules->words);
    g_free(rules->spread);
    g_free(rules->known);
    g_free(rules->waking);
    g_aligned_free(rules->spellings);
    if (rules->pool != NULL) g_string_free(rules->pool, TRUE);
    g_free(rules->others);
    g_free(rules->near_at);
    g_free(rules->near_filter);
    g_free(rules->near);
    if (rules->sounds != NULL) g_array_unref(rules->sounds);
    if (rules->heard != NULL) g_hash_table_unref(rules->heard);
    if (rules->heard_stems != NULL) g_hash_table_unref(rules->heard_stems);
    if (rules->joined != NULL) g_array_unref(rules->joined);
    if (rules->diminutives != NULL) g_array_unref(rules->diminutives);
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

/* A text that stands for words, which are taken over; of two the later one holds. */
static void add_rewrite(Rules *rules, Rewrites *to, const char *text, char **words)
{
    Name *name = names_slot(&to->at, text, strlen(text));

    if (name->value != 0) {
        Rewrite *before = &g_array_index(to->list, Rewrite, name->value - 1);
        g_strfreev(before->words);
        before->words = words;
        return;
    }
    Rewrite rewrite = {g_string_chunk_insert(rules->texts, text), words};
    g_array_append_val(to->list, rewrite);
    names_take(&to->at, name, rewrite.text, to->list->len);
}

/* "can't" is also written cant, unless the pack says what that is. */
static void add_plain_rewrites(Rules *rules)
{
    Rewrites *rewrites = &rules->draft->rewrites;

    for (guint i = 0, n = rewrites->list->len; i < n; i++) {
        Rewrite rewrite = g_array_index(rewrites->list, Rewrite, i);
        if (strchr(rewrite.text, '\'') == NULL) continue;
        g_auto(GStrv) parts = g_strsplit(rewrite.text, "'", -1);
        g_autofree char *plain = g_strjoinv("", parts);
        if (rules_rewrite(rules, plain, strlen(plain)) == NULL)
            add_rewrite(rules, rewrites, plain, g_strdupv(rewrite.words));
    }
}

/* A table from a spelling to the words that it stands for. */
static void read_words(Rules *rules, json_t *tree, const char *pointer, const char *name,
                       Faults *faults, Rewrites *to)
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
        g_autofree char *spelling = fold_word(key);
        add_rewrite(rules, to, spelling, g_strsplit(folded, " ", -1));
    }
}

/* What single letters stand for between two words: {d: de}. */
static void read_short(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    json_t *part = object_part(tree, pointer, "short", faults), *value;
    const char *key;

    json_object_foreach(part, key, value)
    {
        g_autofree char *word = fold_word(json_is_string(value) ? json_string_value(value) : "");
        if (!g_ascii_islower(key[0]) || key[1] != '\0' || *word == '\0' ||
            strchr(word, ' ') != NULL) {
            g_autofree char *at = g_strdup_printf("%s/short/%s", pointer, key);
            fault_add(faults, at, "", "must be the one word that a letter of a to z stands for");
            continue;
        }
        rules->between[key[0] - 'a'] = rules_word(rules, word, strlen(word));
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
        Entry *entry = rules_entry(rules, rules_word(rules, folded, strlen(folded)));
        *(strcmp(name, "numbers") == 0 ? &entry->number : &entry->heard) = json_number_value(value);
    }
}

typedef void Visit(Rules *rules, Symbol class, const char *text, const TextPlace *place);

static void visit_item(json_t *item, const TextPlace *place, Visit *visit, Rules *rules,
                       Symbol class)
{
    if (json_is_string(item)) {
        visit(rules, class, json_string_value(item), place);
    } else if (json_is_integer(item)) {
        g_autofree char *digits =
            g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(item));
        visit(rules, class, digits, place);
    } else {
        g_autofree char *at = fault_pointer_item(place->pointer, (size_t)place->item);
        fault_add(place->faults, at, "", "must be a word or a pattern");
    }
}

/* Every string of a list, or one string, with its place. */
static void each_text(json_t *list, const char *pointer, Faults *faults, Visit *visit, Rules *rules,
                      Symbol class)
{
    size_t i;
    json_t *item;

    if (json_is_string(list)) {
        visit(rules, class, json_string_value(list), &(TextPlace){faults, pointer, -1});
        return;
    }
    if (!json_is_array(list)) {
        if (list != NULL && !json_is_null(list))
            fault_add(faults, pointer, "", "must be a list of words or patterns");
        return;
    }
    json_array_foreach(list, i, item)
        visit_item(item, &(TextPlace){faults, pointer, (gssize)i}, visit, rules, class);
}

static void add_weak(Rules *rules, Symbol class, const char *text, const TextPlace *place)
{
    g_autofree char *folded = fold_word(text);

    (void)class;
    (void)place;
    rules_entry(rules, rules_word(rules, folded, strlen(folded)))->weak = true;
}

static void add_apart(Rules *rules, Symbol class, const char *text, const TextPlace *place)
{
    g_autofree char *folded = fold_word(text);

    (void)class;
    (void)place;
    g_auto(GStrv) words = g_strsplit(folded, " ", -1);
    for (char **word = words; *word != NULL; word++) {
        if (**word == '\0') continue;
        bool known = names_get(&rules->draft->words, *word, strlen(*word)) != 0;
        Entry *entry = rules_entry(rules, rules_word(rules, *word, strlen(*word)));
        entry->apart = true;
        entry->common |= !known;
    }
}

/* An item may hold several words with spaces between. */
static void add_common(Rules *rules, Symbol class, const char *text, const TextPlace *place)
{
    g_autofree char *folded = fold_word(text);

    (void)class;
    (void)place;
    for (const char *word = folded; *word != '\0';) {
        size_t length = strcspn(word, " ");
        if (length > 0 && names_get(&rules->draft->words, word, length) == 0)
            rules_entry(rules, rules_word(rules, word, length))->common = true;
        word += length + (word[length] == ' ');
    }
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
        guint n = g_strv_length(words);
        if (n < 1 || n > 2 || mark == NULL || strlen(mark) != 1 ||
            strchr(".,?!-/", *mark) == NULL) {
            g_autofree char *at = g_strdup_printf("%s/spoken/%s", pointer, key);
            fault_add(faults, at, mark, "must be one or two words for one of . , ? ! - /");
            continue;
        }
        guint32 code = rules_word(rules, words[0], strlen(words[0]));
        if (words[1] != NULL) code |= (guint32)rules_word(rules, words[1], strlen(words[1])) << 16;
        g_hash_table_insert(rules->spoken, GUINT_TO_POINTER(code), GINT_TO_POINTER(*mark));
        rules_entry(rules, code & G_MAXUINT16)->spoken = true;
    }
}

static void read_classes(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    json_t *part = object_part(tree, pointer, "classes", faults), *value;
    const char *key;

    json_object_foreach(part, key, value) rules_class(rules, key, strlen(key));
    for (int role = 0; role < ROLE_COUNT; role++) {
        const char *name = rules_role_name((Role)role);
        if (json_object_get(part, name) == NULL) {
            g_autofree char *at = g_strdup_printf("%s/classes", pointer);
            fault_add(faults, at, name, "this class is missing; it may be an empty list");
        }
        rules->role[role] = rules_class(rules, name, strlen(name));
        rules_entry(rules, rules->role[role])->role = role;
    }
    json_object_foreach(part, key, value)
    {
        g_autofree char *at = g_strdup_printf("%s/classes/%s", pointer, key);
        each_text(value, at, faults, rules_add_pattern, rules,
                  rules_class(rules, key, strlen(key)));
    }
}

static void read_affixes(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    g_autofree char *joined = g_strdup_printf("%s/joined", pointer);
    g_autofree char *small = g_strdup_printf("%s/diminutives", pointer);

    rules_read_joined(rules, object_part(tree, pointer, "joined", faults), joined, faults);
    rules_read_diminutives(rules, object_part(tree, pointer, "diminutives", faults), small, faults);
}

Rules *rules_read(json_t *tree, const char *pointer, Faults *faults)
{
    static const char *const KEYS[] = {
        "apostrophe", "decimal_comma", "rewrite", "endings",     "numbers",       "weak_numbers",
        "common",     "classes",       "spoken",  "cut",         "heard_numbers", "sounds",
        "figures",    "short",         "joined",  "diminutives", "apart",         NULL};
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
    const char *figures = fault_text(faults, pointer, tree, "figures", false);
    if (figures != NULL && strcmp(figures, "part") != 0 && strcmp(figures, "whole") != 0) {
        g_autofree char *at = g_strdup_printf("%s/figures", pointer);
        fault_add(faults, at, figures, "must be part or whole");
    }
    rules->figures_whole = g_strcmp0(figures, "whole") == 0;
    rules->decimal_comma = fault_bool(faults, pointer, tree, "decimal_comma", false);
    read_words(rules, tree, pointer, "rewrite", faults, &rules->draft->rewrites);
    if (!rules->apostrophe_splits) add_plain_rewrites(rules);
    read_words(rules, tree, pointer, "endings", faults, &rules->draft->tails);
    read_short(rules, tree, pointer, faults);
    read_numbers(rules, tree, pointer, "numbers", faults);
    read_numbers(rules, tree, pointer, "heard_numbers", faults);
    g_autofree char *weak = g_strdup_printf("%s/weak_numbers", pointer);
    each_text(json_object_get(tree, "weak_numbers"), weak, faults, add_weak, rules, 0);
    read_spoken(rules, tree, pointer, faults);
    g_autofree char *sounds = g_strdup_printf("%s/sounds", pointer);
    rules_read_sounds(rules, object_part(tree, pointer, "sounds", faults), sounds, faults);
    read_affixes(rules, tree, pointer, faults);
    rules_read_cut(rules, tree, pointer, faults);
    read_classes(rules, tree, pointer, faults);
    g_autofree char *common = g_strdup_printf("%s/common", pointer);
    each_text(json_object_get(tree, "common"), common, faults, add_common, rules, 0);
    g_autofree char *apart = g_strdup_printf("%s/apart", pointer);
    each_text(json_object_get(tree, "apart"), apart, faults, add_apart, rules, 0);
    const char *ring = rules_order(rules);
    if (ring != NULL) {
        g_autofree char *at = g_strdup_printf("%s/classes/%s", pointer, ring);
        fault_add(faults, at, ring, "is made of itself");
    }
    if (rules->full)
        fault_add(faults, pointer, "", "has more than %d words and classes", SYMBOL_MOST);
    if (faults->items->len != before) return NULL;
    rules_index(rules);
    g_clear_pointer(&rules->draft, draft_free);
    return g_steal_pointer(&rules);
}
