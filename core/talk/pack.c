/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/pack.h"

#include "core/talk/rules.h"

struct Pack {
    char *language;
    Rules *rules;
};

Pack *pack_read(json_t *tree, Faults *faults)
{
    guint before = faults->items->len;
    g_autoptr(Pack) pack = g_new0(Pack, 1);

    pack->language = g_strdup(fault_text(faults, "", tree, "language", true));
    json_t *reading = json_object_get(tree, "reading");
    if (reading == NULL)
        fault_add(faults, "", "reading", "is missing: what the language is read by");
    else
        pack->rules = rules_read(reading, "/reading", faults);
    return faults->items->len == before ? g_steal_pointer(&pack) : NULL;
}

void pack_free(Pack *pack)
{
    if (pack == NULL)
        return;
    g_free(pack->language);
    rules_free(pack->rules);
    g_free(pack);
}

const char *pack_language(const Pack *pack)
{
    return pack->language;
}

const Rules *pack_rules(const Pack *pack)
{
    return pack->rules;
}
