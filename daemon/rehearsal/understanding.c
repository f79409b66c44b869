/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/understanding.h"

#include <string.h>

#include "core/talk/pack.h"
#include "core/talk/texts.h"
#include "daemon/rehearsal/likeness.h"

/* How much of a template is its own words: its length without placeholders. */
static size_t own_words(const char *template)
{
    size_t n = 0;
    bool inside = false;

    for (; *template != '\0'; template ++) {
        inside = inside || *template == '{';
        n += !inside;
        inside = inside && *template != '}';
    }
    return n;
}

/* Is it a message of its own? Lines and parts stand in others, on paper or under a picture. */
static bool is_message(const TextRule *rule)
{
    return rule->form != TEXT_PART && rule->form != TEXT_LINE;
}

const char *understand(const GPtrArray *packs, const char *text, GHashTable *values)
{
    size_t n_rules, most = 0;
    const TextRule *rules = text_rules(&n_rules);
    const char *key = NULL;
    const char *best = NULL;
    const char letter[] = {text_mark_of(text, &text), '\0'};

    for (guint p = 0; p < packs->len; p++)
        for (size_t i = 0; i < n_rules; i++) {
            const char *template = pack_text(packs->pdata[p], rules[i].key);
            g_autoptr(GHashTable) found = likeness_new();
            if (template == NULL || own_words(template) <= most || !is_message(&rules[i]) ||
                !likeness_match(template, text, found))
                continue;
            most = own_words(template);
            key = rules[i].key;
            best = template;
        }
    if (best != NULL) likeness_match(best, text, values);
    if (best != NULL && *letter != '\0')
        g_hash_table_replace(values, g_strdup("letter"), g_strdup(letter));
    return key;
}
