/* SPDX-License-Identifier: Apache-2.0 */
/* Words that nobody knows as they stand, and that are made of known ones: a small word written onto the next ("lecole"), an
 * ending that only makes a word small ("dolorcito"). */
#include "core/talk/rules_grammar.h"

#include <string.h>

enum { AFFIX_MOST = 6, REST_LEAST = 3 };

/* What a word begins or ends with. with: the letters that the rest may begin with, or what stands in place of the ending. */
typedef struct {
    char text[AFFIX_MOST + 1];
    int length;
    const char *with; /* in Rules.texts */
} Affix;

static bool letters(const char *text, size_t least, size_t most)
{
    size_t length = strlen(text);

    for (const char *p = text; *p != '\0'; p++)
        if (!g_ascii_islower(*p)) return false;
    return length >= least && length <= most;
}

static GArray *read_affixes(Rules *rules, json_t *part, const char *pointer, Faults *faults,
                            size_t most, const char *why)
{
    GArray *list = g_array_new(FALSE, FALSE, sizeof(Affix));
    const char *key;
    json_t *value;

    json_object_foreach(part, key, value)
    {
        const char *with = json_string_value(value);
        if (with == NULL || !letters(key, 1, AFFIX_MOST) || !letters(with, 0, most)) {
            g_autofree char *at = g_strdup_printf("%s/%s", pointer, key);
            fault_add(faults, at, key, "%s", why);
            continue;
        }
        Affix affix = {.length = (int)strlen(key),
                       .with = g_string_chunk_insert(rules->texts, with)};
        g_strlcpy(affix.text, key, sizeof(affix.text));
        g_array_append_val(list, affix);
    }
    return list;
}

void rules_read_joined(Rules *rules, json_t *part, const char *pointer, Faults *faults)
{
    const char *key;
    json_t *value;

    rules->joined = read_affixes(rules, part, pointer, faults, ALPHABET,
                                 "must be up to 6 of the letters a to z, and the letters that the "
                                 "word behind them may begin with");
    json_object_foreach(part, key, value) rules_word(rules, key, strlen(key));
}

void rules_read_diminutives(Rules *rules, json_t *part, const char *pointer, Faults *faults)
{
    rules->diminutives =
        read_affixes(rules, part, pointer, faults, AFFIX_MOST,
                     "must be an ending of up to 6 of the letters a to z, and the letters that "
                     "stand in its place in the plain word");
}

/* A spelling that is a word, or stands for words. */
static const Spelling *known(const Rules *rules, const char *word, int length)
{
    const Spelling *found = length >= REST_LEAST ? rules_spelling(rules, word, length) : NULL;

    return found != NULL && (found->word != 0 || found->others != 0) ? found : NULL;
}

static bool numeric(const Rules *rules, const Spelling *spelling)
{
    const guint32 *others = rules->others + spelling->others;
    bool any = spelling->word != 0 && rules_entry(rules, spelling->word)->number >= 0;

    for (guint32 i = 1; spelling->others != 0 && i <= others[0]; i++)
        any |= rules_entry(rules, (Symbol)(others[i] & G_MAXUINT16))->number >= 0;
    return any;
}

int rules_joined(const Rules *rules, const char *word, int length, Symbol *first,
                 const Spelling **rest)
{
    for (guint i = 0; rules->joined != NULL && i < rules->joined->len; i++) {
        const Affix *affix = &g_array_index(rules->joined, Affix, i);
        int left = length - affix->length;
        if (left < REST_LEAST || memcmp(word, affix->text, (size_t)affix->length) != 0 ||
            strchr(affix->with, word[affix->length]) == NULL)
            continue;
        *rest = known(rules, word + affix->length, left);
        if (*rest == NULL || numeric(rules, *rest)) continue; /* "cuit" is no "c' huit" */
        *first = rules_spelling(rules, affix->text, affix->length)->word;
        return affix->length;
    }
    return 0;
}

const Spelling *rules_diminutive(const Rules *rules, const char *word, int length)
{
    enum { LONGEST = 48 };
    char plain[LONGEST + AFFIX_MOST];

    for (guint i = 0; rules->diminutives != NULL && i < rules->diminutives->len; i++) {
        const Affix *affix = &g_array_index(rules->diminutives, Affix, i);
        int stem = length - affix->length, with = (int)strlen(affix->with);
        if (stem < 2 || length > LONGEST ||
            memcmp(word + stem, affix->text, (size_t)affix->length) != 0)
            continue;
        memcpy(plain, word, (size_t)stem);
        memcpy(plain + stem, affix->with, (size_t)with);
        const Spelling *found = known(rules, plain, stem + with);
        if (found != NULL && found->word != 0) return found;
    }
    return NULL;
}
