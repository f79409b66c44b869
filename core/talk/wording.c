/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/wording.h"

#include <stdarg.h>

#include "core/talk/texts.h"

static const char *look_up(const char *name, void *context)
{
    return g_hash_table_lookup(context, name);
}

char *wording_from(const Pack *pack, const char *key, GHashTable *values)
{
    const char *text = pack_text(pack, key);

    g_assert(text != NULL);
    return text_fill(text, look_up, values);
}

char *wording(const Pack *pack, const char *key, ...)
{
    g_autoptr(GHashTable) values = g_hash_table_new(g_str_hash, g_str_equal);
    va_list list;

    va_start(list, key);
    for (char *name = va_arg(list, char *); name != NULL; name = va_arg(list, char *)) {
        char *value = va_arg(list, char *);
        g_hash_table_insert(values, name, value);
    }
    va_end(list);
    return wording_from(pack, key, values);
}

char *wording_kind(const Pack *pack, const char *kind, const char *value)
{
    bool has_value = value != NULL && *value != '\0';
    g_autofree char *named = g_strconcat("kind-", kind, NULL);
    const char *key = named;

    if (strcmp(kind, "missed-run") == 0)
        key = "kind-missed";
    else if (strcmp(kind, "pain") == 0 && !has_value)
        key = "kind-pain-some";
    if (text_rule(key) == NULL) key = "kind-other";
    return wording(pack, key, "value", has_value ? value : "?", NULL);
}
