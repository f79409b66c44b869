/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/likeness.h"

#include <string.h>

#include "core/clinic/template.h"

GHashTable *likeness_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
}

static void keep(GHashTable *found, const char *name, const char *value, size_t length)
{
    if (template_secret(name) == NULL && !g_hash_table_contains(found, name))
        g_hash_table_insert(found, g_strdup(name), g_strndup(value, length));
}

/* Where the literal of that length stands in text, at the end of it where nothing follows. */
static const char *find_literal(const char *text, const char *literal, size_t length, bool last)
{
    g_autofree char *wanted = g_strndup(literal, length);

    if (length == 0) return last ? text + strlen(text) : text;
    if (!last) return strstr(text, wanted);
    return g_str_has_suffix(text, wanted) ? text + strlen(text) - length : NULL;
}

bool likeness_match(const char *template, const char *text, GHashTable *found)
{
    g_autoptr(GHashTable) values = likeness_new();
    const char *at = template;
    g_autofree char *name = template_next(&at, NULL);
    const char *open = name != NULL ? strchr(template, '{') : template + strlen(template);
    size_t head = (size_t)(open - template);
    GHashTableIter each;
    gpointer key, value;

    if (strncmp(template, text, head) != 0) return false;
    text += head;
    while (name != NULL) {
        const char *literal = at;
        char *next = template_next(&at, NULL);
        const char *end = next != NULL ? strchr(literal, '{') : literal + strlen(literal);
        size_t length = (size_t)(end - literal);
        const char *after = find_literal(text, literal, length, next == NULL);
        if (after != NULL) keep(values, name, text, (size_t)(after - text));
        g_free(name);
        name = next;
        if (after == NULL) return false;
        text = after + length;
    }
    if (*text != '\0') return false;
    g_hash_table_iter_init(&each, values);
    while (g_hash_table_iter_next(&each, &key, &value))
        keep(found, key, value, strlen(value));
    return true;
}

bool likeness_match_json(const json_t *template, const json_t *value, GHashTable *found)
{
    bool matched = false;
    const char *name;
    size_t index;
    json_t *item;

    if (json_is_string(template) && json_is_string(value))
        return likeness_match(json_string_value(template), json_string_value(value), found);
    json_object_foreach((json_t *)template, name, item)
    {
        matched |= likeness_match_json(item, json_object_get(value, name), found);
    }
    json_array_foreach(template, index, item)
    {
        matched |= likeness_match_json(item, json_array_get(value, index), found);
    }
    return matched;
}
