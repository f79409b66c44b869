/* SPDX-License-Identifier: Apache-2.0 */
/* Words that are written as they are heard.
 *
 * A pack tells which letters sound alike ("v" as "b", "h" as nothing). Each of its words is put down by what is left when these
 * are made one; a word that nobody knows is looked up the same way: "aser" is "hacer". */
#include "core/talk/rules_grammar.h"

#include <string.h>

enum { SOUND_MOST = 4, WORD_LEAST = 3, STEM_LEAST = 5, LONGEST = 24 };

/* Letters, at the end of a word alone where that is told, and what is heard. */
typedef struct {
    char from[SOUND_MOST + 1], to[SOUND_MOST + 1];
    int length;
    bool end;
} Sound;

static bool all_letters(const char *text, size_t least, size_t most)
{
    size_t length = strlen(text);

    for (const char *p = text; *p != '\0'; p++)
        if (!g_ascii_islower(*p)) return false;
    return length >= least && length <= most;
}

static bool read_sound(const char *key, json_t *value, Sound *sound)
{
    g_autofree char *letters = g_strdup(key);
    size_t length = strlen(letters);

    *sound = (Sound){.end = length > 0 && letters[length - 1] == '>'};
    if (sound->end) letters[length - 1] = '\0';
    if (!json_is_string(value) || !all_letters(letters, 1, SOUND_MOST) ||
        !all_letters(json_string_value(value), 0, strlen(letters)))
        return false;
    sound->length = (int)strlen(letters);
    g_strlcpy(sound->from, letters, sizeof(sound->from));
    g_strlcpy(sound->to, json_string_value(value), sizeof(sound->to));
    return true;
}

/* Those of a letter together: longer ones first, those of the end before the same elsewhere. */
static int by_letter(const void *a, const void *b)
{
    const Sound *first = a, *second = b;

    if (first->from[0] != second->from[0]) return first->from[0] - second->from[0];
    if (first->length != second->length) return second->length - first->length;
    if (first->end != second->end) return (int)second->end - (int)first->end;
    return strcmp(first->from, second->from);
}

void rules_read_sounds(Rules *rules, json_t *part, const char *pointer, Faults *faults)
{
    const char *key;
    json_t *value;

    rules->sounds = g_array_new(FALSE, FALSE, sizeof(Sound));
    json_object_foreach(part, key, value)
    {
        Sound sound;
        if (read_sound(key, value, &sound)) {
            g_array_append_val(rules->sounds, sound);
            rules->sounds_of[sound.from[0] - 'a' + 1]++;
            continue;
        }
        g_autofree char *at = g_strdup_printf("%s/%s", pointer, key);
        fault_add(faults, at, key,
                  "must be up to 4 of the letters a to z, \">\" behind them for the end of a word, "
                  "and no more letters for what is heard");
    }
    if (rules->sounds->len > 1)
        qsort(rules->sounds->data, rules->sounds->len, sizeof(Sound), by_letter);
    for (int letter = 0; letter < ALPHABET; letter++)
        rules->sounds_of[letter + 1] += rules->sounds_of[letter];
}

/* What is heard of a word. Its length, or 0 where it has other letters or is too long. */
static int hear(const Rules *rules, const char *word, int length, char *heard)
{
    int n = 0;

    if (length > LONGEST) return 0;
    for (int at = 0; at < length;) {
        const Sound *found = NULL;
        if (!g_ascii_islower(word[at])) return 0;
        const guint *of = rules->sounds_of + (word[at] - 'a');
        for (guint i = of[0]; i < of[1] && found == NULL; i++) {
            const Sound *sound = &g_array_index(rules->sounds, Sound, i);
            bool here = sound->length <= length - at &&
                        memcmp(sound->from, word + at, (size_t)sound->length) == 0;
            if (here && (!sound->end || at + sound->length == length)) found = sound;
        }
        const char *to = found != NULL ? found->to : word + at;
        size_t letters = found != NULL ? strlen(to) : 1;
        memcpy(heard + n, to, letters);
        n += (int)letters;
        at += found != NULL ? found->length : 1;
    }
    heard[n] = '\0';
    return n;
}

/* Words by their symbols: of two that sound alike, the first. Common ones too, so that "pandan" is "pendant". */
void rules_index_sounds(Rules *rules)
{
    char heard[LONGEST + 1];

    if (rules->sounds == NULL || rules->sounds->len == 0) return;
    rules->heard = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    rules->heard_stems = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    for (guint i = 1; i < rules->entries->len; i++) {
        const Entry *entry = rules_entry(rules, (Symbol)i);
        GHashTable *table = entry->stem ? rules->heard_stems : rules->heard;
        if (entry->class) continue;
        int n = hear(rules, entry->text, (int)strlen(entry->text), heard);
        if (n >= (entry->stem ? STEM_LEAST : WORD_LEAST) && !g_hash_table_contains(table, heard))
            g_hash_table_insert(table, g_strdup(heard), GUINT_TO_POINTER(i));
    }
}

Symbol rules_heard(const Rules *rules, const char *word, int length, bool stem)
{
    char heard[LONGEST + 1];
    int n = rules->heard != NULL ? hear(rules, word, length, heard) : 0;
    gpointer found = NULL;

    if (!stem)
        return (Symbol)GPOINTER_TO_UINT(n >= WORD_LEAST ? g_hash_table_lookup(rules->heard, heard)
                                                        : NULL);
    for (; found == NULL && n >= STEM_LEAST; heard[--n] = '\0')
        found = g_hash_table_lookup(rules->heard_stems, heard);
    return (Symbol)GPOINTER_TO_UINT(found);
}
