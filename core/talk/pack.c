/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/pack.h"

#include "core/talk/rules.h"
#include "core/talk/texts.h"

struct Pack {
    char *language;
    Texts *texts;
    Rules *rules;
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

Pack *pack_read(json_t *tree, Faults *faults)
{
    static const char *const KEYS[] = {"language", "texts", "reading", NULL};
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

const Rules *pack_rules(const Pack *pack)
{
    return pack->rules;
}
