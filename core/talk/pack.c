/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/pack.h"

#include <string.h>

#include "core/talk/rules.h"
#include "core/talk/share.h"
#include "core/talk/texts.h"

#define CHECKIN_LETTERS "ABCDE"

enum { SHARE_LETTERS_LEAST = 6 };
enum { PROGRAMME_TEXT_LONGEST = 2000 };

struct Pack {
    char *language;
    Texts *texts;
    Rules *rules;
    char *share_letters;
    GHashTable *programmes; /* of text to text; empty where the pack has none */
};

/* Is it a language tag such as "en" or "pt-BR" (RFC 5646, the part that packs need)? */
static bool is_tag(const char *text)
{
    size_t first = strspn(text, "abcdefghijklmnopqrstuvwxyz");

    if (first < 2 || first > 3) return false;
    for (text += first; *text == '-';) {
        size_t length = 0;
        for (text++; g_ascii_isalnum(text[length]); length++)
            ;
        if (length < 2 || length > 8) return false;
        text += length;
    }
    return *text == '\0';
}

/* Texts of programmes as they stand there, each with the same in the pack's language. */
static void read_programmes(Pack *pack, json_t *object, Faults *faults)
{
    const char *text;
    json_t *value;

    pack->programmes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    if (object == NULL) return;
    if (!json_is_object(object)) {
        fault_add(faults, "/programmes", "programmes", "must be a list of TEXT: TEXT");
        return;
    }
    json_object_foreach(object, text, value)
    {
        g_autofree char *place = fault_pointer("/programmes", text);
        const char *same = json_string_value(value);
        if (same == NULL || *same == '\0')
            fault_add(faults, place, text, "must have a text of this language beside it");
        else if (g_utf8_strlen(same, -1) > PROGRAMME_TEXT_LONGEST)
            fault_add(faults, place, same, "is too long: at most %d characters are taken",
                      PROGRAMME_TEXT_LONGEST);
        else
            g_hash_table_insert(pack->programmes, g_strstrip(g_strdup(text)),
                                g_strstrip(g_strdup(same)));
    }
}

/* Letters with blanks between them, without what else they could mean. */
static void read_share_letters(Pack *pack, json_t *tree, Faults *faults)
{
    const char *text = fault_text(faults, "", tree, "share_letters", true);
    g_autoptr(GString) letters = g_string_new(NULL);
    guint before = faults->items->len;

    if (text == NULL) return;
    g_auto(GStrv) parts = g_strsplit_set(text, " \n", -1);
    for (int i = 0; parts[i] != NULL; i++) {
        char letter = parts[i][0];
        if (letter == '\0') continue;
        if (!g_ascii_isupper(letter) || parts[i][1] != '\0')
            fault_add(faults, "/share_letters", parts[i], "is not one letter of A to Z");
        else if (strchr(CHECKIN_LETTERS, letter) != NULL)
            fault_add(faults, "/share_letters", parts[i],
                      "answers the weekly check-in; leave A to E out");
        else if (strchr(letters->str, letter) != NULL)
            fault_add(faults, "/share_letters", parts[i], "stands there twice");
        else if (pack->rules != NULL && pack->texts != NULL && share_is_answer_letter(pack, letter))
            fault_add(faults, "/share_letters", parts[i],
                      "is an answer in this language (done, not done or pain); leave it out");
        else
            g_string_append_c(letters, letter);
    }
    if (letters->len < SHARE_LETTERS_LEAST && faults->items->len == before)
        fault_add(faults, "/share_letters", text, "must hold at least %d letters",
                  SHARE_LETTERS_LEAST);
    pack->share_letters = g_strdup(letters->str);
}

Pack *pack_read(json_t *tree, Faults *faults)
{
    static const char *const KEYS[] = {"language",   "share_letters", "texts",
                                       "programmes", "reading",       NULL};
    guint before = faults->items->len;
    g_autoptr(Pack) pack = g_new0(Pack, 1);

    if (!json_is_object(tree)) {
        fault_add(faults, "", "", "must hold language, share_letters, texts and reading");
        return NULL;
    }
    fault_unknown_keys(faults, "", tree, KEYS);
    pack->language = g_strdup(fault_text(faults, "", tree, "language", true));
    if (pack->language != NULL && !is_tag(pack->language))
        fault_add(faults, "/language", pack->language, "is no language tag such as en or pt-BR");
    json_t *texts = json_object_get(tree, "texts");
    if (texts == NULL)
        fault_add(faults, "", "texts", "is missing: what osier writes in the language");
    else
        pack->texts = texts_read(texts, "/texts", faults);
    read_programmes(pack, json_object_get(tree, "programmes"), faults);
    json_t *reading = json_object_get(tree, "reading");
    if (reading == NULL)
        fault_add(faults, "", "reading", "is missing: what the language is read by");
    else
        pack->rules = rules_read(reading, "/reading", faults);
    read_share_letters(pack, tree, faults);
    return faults->items->len == before ? g_steal_pointer(&pack) : NULL;
}

void pack_free(Pack *pack)
{
    if (pack == NULL) return;
    g_free(pack->language);
    texts_free(pack->texts);
    rules_free(pack->rules);
    g_free(pack->share_letters);
    if (pack->programmes != NULL) g_hash_table_unref(pack->programmes);
    g_free(pack);
}

const char *pack_language(const Pack *pack)
{
    return pack->language;
}

const char *pack_text(const Pack *pack, const char *key)
{
    return texts_get(pack->texts, key);
}

const char *pack_programme_text(const Pack *pack, const char *text)
{
    const char *same = text != NULL ? g_hash_table_lookup(pack->programmes, text) : NULL;

    return same != NULL ? same : text;
}

const char *pack_share_letters(const Pack *pack)
{
    return pack->share_letters;
}

const Rules *pack_rules(const Pack *pack)
{
    return pack->rules;
}
