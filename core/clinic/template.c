/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/template.h"

enum { TEMPLATE_BYTES_MAX = 2000, SECRET_NAME_MAX = 64 };

static const char SECRET[] = "secret:";

char *template_next(const char **at, bool *open)
{
    const char *start = strchr(*at, '{');
    const char *end = start != NULL ? strchr(start, '}') : NULL;

    if (open != NULL) *open = start != NULL && end == NULL;
    if (end == NULL) return NULL;
    *at = end + 1;
    return g_strndup(start + 1, (gsize)(end - start - 1));
}

const char *template_secret(const char *placeholder)
{
    return g_str_has_prefix(placeholder, SECRET) ? placeholder + strlen(SECRET) : NULL;
}

bool secret_name_valid(const char *name)
{
    size_t length = strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789.-");

    return length > 0 && length <= SECRET_NAME_MAX && name[length] == '\0' && name[0] != '.';
}

bool template_holds(const char *text, const char *placeholder)
{
    const char *at = text;

    for (;;) {
        g_autofree char *found = template_next(&at, NULL);
        if (found == NULL) return false;
        if (strcmp(found, placeholder) == 0) return true;
    }
}

bool template_holds_any(json_t *value, const char *placeholder)
{
    const char *key;
    size_t index;
    json_t *item;

    if (json_is_string(value)) return template_holds(json_string_value(value), placeholder);
    json_object_foreach(value, key, item)
    {
        if (template_holds_any(item, placeholder)) return true;
    }
    json_array_foreach(value, index, item)
    {
        if (template_holds_any(item, placeholder)) return true;
    }
    return false;
}

static void check_one(Faults *faults, const char *pointer, const char *found,
                      const char *const *allowed)
{
    const char *secret = template_secret(found);
    /* Where only secrets stand, what is written may be one: it is not repeated. */
    g_autofree char *written =
        allowed[0] != NULL || secret != NULL ? g_strdup_printf("{%s}", found) : g_strdup("...");

    if (secret != NULL) {
        if (!secret_name_valid(secret))
            fault_add(faults, pointer, written,
                      "names no secret; a name has only a-z, 0-9, dot and dash");
        return;
    }
    if (g_strv_contains(allowed, found)) return;
    const char *nearest = fault_nearest(found, allowed);
    if (nearest != NULL) {
        fault_add(faults, pointer, written, "unknown placeholder; did you mean {%s}?", nearest);
        return;
    }
    g_autofree char *list = g_strjoinv("} {", (char **)allowed);
    if (allowed[0] != NULL)
        fault_add(faults, pointer, written, "unknown placeholder; known here: {%s} {secret:NAME}",
                  list);
    else
        fault_add(faults, pointer, written,
                  "unknown placeholder; only {secret:NAME} is known here");
}

void template_check(Faults *faults, const char *pointer, const char *text,
                    const char *const *allowed)
{
    const char *at = text, *shown = allowed[0] != NULL ? text : "...";
    bool open = false;

    for (;;) {
        g_autofree char *found = template_next(&at, &open);
        if (found == NULL) break;
        check_one(faults, pointer, found, allowed);
    }
    if (open) fault_add(faults, pointer, shown, "has a brace { that is not closed");
    if (strlen(text) > TEMPLATE_BYTES_MAX)
        fault_add(faults, pointer, shown, "is longer than %d bytes", TEMPLATE_BYTES_MAX);
}

void template_check_all(Faults *faults, const char *pointer, json_t *value,
                        const char *const *allowed)
{
    const char *key;
    size_t index;
    json_t *item;

    if (json_is_string(value)) template_check(faults, pointer, json_string_value(value), allowed);
    json_object_foreach(value, key, item)
    {
        g_autofree char *place = fault_pointer(pointer, key);
        template_check_all(faults, place, item, allowed);
    }
    json_array_foreach(value, index, item)
    {
        g_autofree char *place = fault_pointer_item(pointer, index);
        template_check_all(faults, place, item, allowed);
    }
}

char *section_template(const Section *section, const char *key, bool required,
                       const char *const *allowed)
{
    const char *text = section_text(section, key, required);

    if (text == NULL) return NULL;
    g_autofree char *pointer = fault_pointer(section->pointer, key);
    template_check(section->faults, pointer, text, allowed);
    if (*text == '\0') fault_add(section->faults, pointer, text, "is empty");
    return g_strdup(text);
}

/* RFC 9110 section 5.6.2: a token. */
static bool is_token(const char *text)
{
    for (const char *at = text; *at != '\0'; at++)
        if (!g_ascii_isalnum(*at) && strchr("!#$%&'*+-.^_`|~", *at) == NULL) return false;
    return *text != '\0';
}

json_t *section_fields(const Section *section, const char *key, const char *const *allowed)
{
    json_t *object = fault_object(section->faults, section->pointer, section->object, key, false);
    g_autofree char *pointer = fault_pointer(section->pointer, key);
    json_t *item;
    const char *name;

    json_object_foreach(object, name, item)
    {
        const char *text = fault_text(section->faults, pointer, object, name, true);
        g_autofree char *place = fault_pointer(pointer, name);
        if (text != NULL) template_check(section->faults, place, text, allowed);
    }
    return json_incref(object);
}

json_t *section_headers(const Section *section, const char *key, const char *const *allowed)
{
    json_t *fields = section_fields(section, key, allowed);
    g_autofree char *pointer = fault_pointer(section->pointer, key);
    json_t *item;
    const char *name;

    json_object_foreach(fields, name, item)
    {
        g_autofree char *place = fault_pointer(pointer, name);
        const char *text = json_string_value(item);
        if (!is_token(name))
            fault_add_key(section->faults, place, name, "is no name of an HTTP header");
        if (text != NULL && strpbrk(text, "\r\n") != NULL)
            fault_add(section->faults, place, text, "must be one line");
    }
    return fields;
}
