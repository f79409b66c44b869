/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/sms/template.h"

#include <string.h>

#include "core/clinic/template.h"

static const char *find(const char *name, const Scope *scope, char **why)
{
    const char *secret = template_secret(name);

    if (secret != NULL) {
        const char *value = scope->secret != NULL ? scope->secret(secret, scope->context) : NULL;
        if (value == NULL)
            *why = g_strdup_printf("secret %s: is missing; put it into the clinic's secrets folder",
                                   secret);
        return value;
    }
    for (const Filling *filling = scope->fillings; filling->name != NULL; filling++)
        if (strcmp(filling->name, name) == 0 && filling->value != NULL) return filling->value;
    *why = g_strdup_printf("{%s}: has no value here", name);
    return NULL;
}

static char *fill(const char *template, const Scope *scope, bool encode, char **why)
{
    g_autoptr(GString) filled = g_string_new(NULL);
    const char *at = template;

    for (;;) {
        const char *literal = at;
        g_autofree char *name = template_next(&at, NULL);
        if (name == NULL) {
            g_string_append(filled, literal);
            return g_string_free(g_steal_pointer(&filled), FALSE);
        }
        g_string_append_len(filled, literal, strchr(literal, '{') - literal);
        const char *value = find(name, scope, why);
        if (value == NULL) return NULL;
        g_autofree char *encoded = encode ? g_uri_escape_string(value, NULL, FALSE) : NULL;
        g_string_append(filled, encode ? encoded : value);
    }
}

char *template_fill(const char *template, const Scope *scope, char **why)
{
    return fill(template, scope, false, why);
}

char *template_url(const char *template, const Scope *scope, char **why)
{
    return fill(template, scope, true, why);
}

char *template_form(json_t *object, const Scope *scope, char **why)
{
    g_autoptr(GString) form = g_string_new(NULL);
    const char *name;
    json_t *item;

    json_object_foreach(object, name, item)
    {
        g_autofree char *value = fill(json_string_value(item), scope, false, why);
        if (value == NULL) return NULL;
        g_autofree char *left = g_uri_escape_string(name, NULL, FALSE);
        g_autofree char *right = g_uri_escape_string(value, NULL, FALSE);
        g_string_append_printf(form, "%s%s=%s", form->len > 0 ? "&" : "", left, right);
    }
    return g_string_free(g_steal_pointer(&form), FALSE);
}

static json_t *fill_object(json_t *object, const Scope *scope, char **why)
{
    json_t *copy = json_object();
    const char *name;
    json_t *item;

    json_object_foreach(object, name, item)
    {
        json_t *filled = template_json(item, scope, why);
        if (filled == NULL) {
            json_decref(copy);
            return NULL;
        }
        json_object_set_new(copy, name, filled);
    }
    return copy;
}

static json_t *fill_array(json_t *array, const Scope *scope, char **why)
{
    json_t *copy = json_array();
    size_t index;
    json_t *item;

    json_array_foreach(array, index, item)
    {
        json_t *filled = template_json(item, scope, why);
        if (filled == NULL) {
            json_decref(copy);
            return NULL;
        }
        json_array_append_new(copy, filled);
    }
    return copy;
}

json_t *template_json(json_t *value, const Scope *scope, char **why)
{
    if (json_is_object(value)) return fill_object(value, scope, why);
    if (json_is_array(value)) return fill_array(value, scope, why);
    if (!json_is_string(value)) return json_incref(value);
    g_autofree char *text = fill(json_string_value(value), scope, false, why);
    if (text == NULL) return NULL;
    json_t *filled = json_string(text);
    if (filled == NULL) *why = g_strdup("a value: is not UTF-8 and cannot stand in JSON");
    return filled;
}

bool template_headers(WireRequest *request, json_t *object, const Scope *scope, char **why)
{
    const char *name;
    json_t *item;

    json_object_foreach(object, name, item)
    {
        g_autofree char *value = fill(json_string_value(item), scope, false, why);
        if (value == NULL) return false;
        if (!wire_request_header(request, name, value)) {
            *why = g_strdup_printf("header %s: its value holds a line break", name);
            return false;
        }
    }
    return true;
}
