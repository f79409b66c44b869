/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/pack.h"

#include "core/talk/rules.h"
#include "core/talk/texts.h"

enum { PROGRAMME_TEXT_LONGEST = 2000 };

struct Pack {
    char *language;
    Texts *texts;
    Rules *rules;
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

Pack *pack_read(json_t *tree, Faults *faults)
{
    static const char *const KEYS[] = {"language", "texts", "programmes", "reading", NULL};
    guint before = faults->items->len;
    g_autoptr(Pack) pack = g_new0(Pack, 1);

    if (!json_is_object(tree)) {
        fault_add(faults, "", "", "must hold language, texts and reading");
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
    return faults->items->len == before ? g_steal_pointer(&pack) : NULL;
}

void pack_free(Pack *pack)
{
    if (pack == NULL) return;
    g_free(pack->language);
    texts_free(pack->texts);
    rules_free(pack->rules);
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

const Rules *pack_rules(const Pack *pack)
{
    return pack->rules;
}
