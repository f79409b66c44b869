/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/section.h"

#include <stdarg.h>

#include "core/calendar/date.h"

enum { LIST_MAX = 64 };

static Section make(const Section *parent, char *pointer, json_t *object, const char *const *known)
{
    Section section = {.faults = parent->faults, .pointer = pointer, .given = object != NULL};

    section.object = object != NULL ? json_incref(object) : json_object();
    fault_unknown_keys(section.faults, pointer, section.object, known);
    return section;
}

Section section_open(const Section *parent, const char *key, bool required,
                     const char *const *known)
{
    json_t *object = fault_object(parent->faults, parent->pointer, parent->object, key, required);

    return make(parent, fault_pointer(parent->pointer, key), object, known);
}

Section section_item(const Section *parent, const char *key, size_t index, json_t *item,
                     const char *const *known)
{
    g_autofree char *list = fault_pointer(parent->pointer, key);
    char *pointer = fault_pointer_item(list, index);

    if (!json_is_object(item)) {
        g_autofree char *written = fault_written(parent->faults, pointer, item);
        fault_add(parent->faults, pointer, written, "must be a group of keys: {%s: ...}", known[0]);
        item = NULL;
    }
    return make(parent, pointer, item, known);
}

void section_close(Section *section)
{
    g_clear_pointer(&section->object, json_decref);
    g_clear_pointer(&section->pointer, g_free);
}

void section_fault(const Section *section, const char *key, const char *why, ...)
{
    g_autofree char *pointer = fault_pointer(section->pointer, key);
    g_autofree char *written =
        fault_written(section->faults, pointer, json_object_get(section->object, key));
    va_list list;

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    fault_add(section->faults, pointer, written, "%s", reason);
}

void section_fault_hushed(const Section *section, const char *key, const char *why)
{
    g_autofree char *pointer = fault_pointer(section->pointer, key);

    fault_add(section->faults, pointer, "...", "%s", why);
}

bool section_has(const Section *section, const char *key)
{
    return json_object_get(section->object, key) != NULL;
}

const char *section_text(const Section *section, const char *key, bool required)
{
    /* What a missing group lacks was said once, of the group. */
    return fault_text(section->faults, section->pointer, section->object, key,
                      required && section->given);
}

/* NULL, or why the text is no printable line. */
static const char *line_problem(const char *text, size_t bytes_max)
{
    if (*text == '\0') return "is empty";
    if (strlen(text) > bytes_max) return "is too long";
    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at))
        if (g_unichar_iscntrl(g_utf8_get_char(at)))
            return "must be one line without control characters";
    return NULL;
}

char *section_line(const Section *section, const char *key, bool required, size_t bytes_max)
{
    const char *text = section_text(section, key, required);
    const char *problem = text != NULL ? line_problem(text, bytes_max) : NULL;

    if (problem != NULL) section_fault(section, key, "%s (at most %zu bytes)", problem, bytes_max);
    return problem == NULL ? g_strdup(text) : NULL;
}

/* Adds an item of a list of texts. */
static void add_text(const Section *section, const char *key, size_t index, json_t *item,
                     GPtrArray *texts)
{
    g_autofree char *list = fault_pointer(section->pointer, key);
    g_autofree char *pointer = fault_pointer_item(list, index);
    g_autofree char *written = fault_written(section->faults, pointer, item);

    if (json_is_string(item) || json_is_number(item))
        g_ptr_array_add(texts, g_steal_pointer(&written));
    else
        fault_add(section->faults, pointer, written, "must be text");
}

GPtrArray *section_texts(const Section *section, const char *key, bool required)
{
    GPtrArray *texts = g_ptr_array_new_with_free_func(g_free);
    json_t *value = json_object_get(section->object, key);
    json_t *item;
    size_t index;

    if (!json_is_array(value)) {
        const char *text = section_text(section, key, required);
        if (text != NULL) g_ptr_array_add(texts, g_strdup(text));
        return texts;
    }
    if (json_array_size(value) > LIST_MAX) {
        section_fault(section, key, "holds more than %d items", LIST_MAX);
        return texts;
    }
    json_array_foreach(value, index, item) add_text(section, key, index, item, texts);
    return texts;
}

static char *duration_text(int64_t ms)
{
    if (ms % DAY_MS == 0) return g_strdup_printf("%dd", (int)(ms / DAY_MS));
    if (ms % HOUR_MS == 0) return g_strdup_printf("%dh", (int)(ms / HOUR_MS));
    if (ms % MINUTE_MS == 0) return g_strdup_printf("%dmin", (int)(ms / MINUTE_MS));
    return g_strdup_printf("%ds", (int)(ms / SECOND_MS));
}

int64_t section_duration(const Section *section, const char *key, int64_t otherwise, int64_t low,
                         int64_t high)
{
    const char *text = section_text(section, key, false);
    int64_t ms;

    if (text == NULL) return otherwise;
    if (duration_parse(text, &ms) && ms >= low && ms <= high) return ms;
    g_autofree char *least = duration_text(low);
    g_autofree char *most = duration_text(high);
    section_fault(section, key, "must be a duration from %s to %s (units s, min, h, d)", least,
                  most);
    return otherwise;
}

/* RFC 6901 section 3: each reference token begins with a slash; "~" stands only in "~0" and "~1".
 */
static bool is_pointer(const char *text)
{
    if (*text != '\0' && *text != '/') return false;
    for (; *text != '\0'; text++)
        if (*text == '~' && text[1] != '0' && text[1] != '1') return false;
    return true;
}

char *section_pointer(const Section *section, const char *key, bool required, bool whole)
{
    const char *text = section_text(section, key, required);

    if (text == NULL) return NULL;
    if (is_pointer(text) && strlen(text) <= 200 && (whole || *text != '\0')) return g_strdup(text);
    section_fault(section, key, "must be a JSON Pointer such as /message/id");
    return NULL;
}

int section_choice(const Section *section, const char *key, const char *const *choices,
                   int otherwise)
{
    const char *text = section_text(section, key, false);

    if (text == NULL) return otherwise;
    for (int i = 0; choices[i] != NULL; i++)
        if (strcmp(text, choices[i]) == 0) return i;
    const char *nearest = fault_nearest(text, choices);
    g_autofree char *list = g_strjoinv(", ", (char **)choices);
    if (nearest != NULL)
        section_fault(section, key, "is none of %s; did you mean %s?", list, nearest);
    else
        section_fault(section, key, "is none of %s", list);
    return otherwise;
}
