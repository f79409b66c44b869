/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/reader.h"

/* What stands there, as a person would recognise it. */
static char *shown(json_t *value)
{
    if (value == NULL) return g_strdup("");
    if (json_is_string(value)) return g_strdup(json_string_value(value));
    if (json_is_object(value)) return g_strdup("a table");
    if (json_is_array(value)) return g_strdup("a list");
    if (json_is_real(value)) return g_strdup_printf("%g", json_real_value(value));
    if (json_is_integer(value))
        return g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(value));
    return g_strdup(json_is_true(value) ? "true" : json_is_false(value) ? "false" : "nothing");
}

void reader_fault(Reader *reader, const char *at, json_t *object, const char *key, const char *why,
                  ...)
{
    va_list list;
    g_autofree char *pointer = fault_pointer(at, key);
    g_autofree char *text = shown(json_object_get(object, key));

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    fault_add(reader->faults, pointer, text, "%s", reason);
}

/* A missing member is a fault of its parent, which has a place in the file. */
static void missing(Reader *reader, const char *at, const char *key, const char *what)
{
    fault_add(reader->faults, at, key, "is missing: add `%s:` with %s", key, what);
}

json_t *reader_object(Reader *reader, const char *at, json_t *object, const char *key,
                      bool required)
{
    json_t *value = json_object_get(object, key);

    if (json_is_object(value)) return value;
    if (value != NULL)
        reader_fault(reader, at, object, key, "must be a table of `name: value` lines");
    else if (required)
        missing(reader, at, key, "a table below it");
    return NULL;
}

json_t *reader_list(Reader *reader, const char *at, json_t *object, const char *key, bool required)
{
    json_t *value = json_object_get(object, key);

    if (json_is_array(value) && json_array_size(value) > 0 &&
        json_array_size(value) <= READER_LIST_MAX)
        return value;
    if (value != NULL)
        reader_fault(reader, at, object, key, "must be a list of 1 to 64 items, each after a dash");
    else if (required)
        missing(reader, at, key, "a list below it");
    return NULL;
}

/* NULL, or why it is no text that may stand in a message, on paper and on a screen. */
static const char *text_problem(const char *text)
{
    if (*text == '\0') return "is empty: say it in words";
    if (strlen(text) > READER_TEXT_MAX) return "is too long: at most 2000 bytes";
    for (const char *letter = text; *letter != '\0'; letter = g_utf8_next_char(letter))
        if (g_unichar_iscntrl(g_utf8_get_char(letter)) && *letter != '\n' && *letter != '\t')
            return "holds a control character: take it out";
    return NULL;
}

const char *reader_text(Reader *reader, const char *at, json_t *object, const char *key,
                        bool required)
{
    json_t *value = json_object_get(object, key);

    if (value == NULL) {
        if (required) missing(reader, at, key, "a text");
        return NULL;
    }
    const char *text = fault_text(reader->faults, at, object, key, required);
    if (text == NULL) return NULL;
    const char *problem = text_problem(text);
    if (problem == NULL) return text;
    reader_fault(reader, at, object, key, "%s", problem);
    return NULL;
}

const char *reader_key(Reader *reader, const char *at, json_t *object, const char *key,
                       bool required)
{
    const char *text = reader_text(reader, at, object, key, required);

    if (text == NULL) return NULL;
    if (strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-") == strlen(text) && strlen(text) <= 60)
        return text;
    reader_fault(reader, at, object, key, "must be small letters, digits and dashes, at most 60");
    return NULL;
}

GPtrArray *reader_texts(Reader *reader, const char *at, json_t *object, const char *key,
                        bool required)
{
    json_t *value = json_object_get(object, key);

    if (!json_is_array(value)) {
        const char *text = reader_text(reader, at, object, key, required);
        if (text == NULL) return NULL;
        GPtrArray *one = g_ptr_array_new();
        g_ptr_array_add(one, (gpointer)text);
        return one;
    }
    json_t *list = reader_list(reader, at, object, key, required);
    if (list == NULL) return NULL;
    g_autofree char *below = fault_pointer(at, key);
    GPtrArray *out = g_ptr_array_new();
    for (size_t i = 0; i < json_array_size(list); i++) {
        json_t *item = json_array_get(list, i);
        const char *text = json_string_value(item);
        const char *problem = text != NULL ? text_problem(text) : "must be a text";
        if (problem == NULL) {
            g_ptr_array_add(out, (gpointer)text);
            continue;
        }
        g_autofree char *pointer = fault_pointer_item(below, i);
        g_autofree char *value_shown = shown(item);
        fault_add(reader->faults, pointer, value_shown, "%s", problem);
    }
    return out;
}

int reader_choice(Reader *reader, const char *at, json_t *object, const char *key,
                  const char *const *choices, int otherwise)
{
    g_autofree char *list = g_strjoinv(", ", (char **)choices);
    json_t *value = json_object_get(object, key);

    if (value == NULL && otherwise < 0) {
        g_autofree char *what = g_strdup_printf("one of: %s", list);
        missing(reader, at, key, what);
    }
    if (value == NULL) return otherwise;
    for (int i = 0; choices[i] != NULL && json_is_string(value); i++)
        if (strcmp(choices[i], json_string_value(value)) == 0) return i;
    g_autofree char *why = g_strdup_printf("must be one of: %s", list);
    reader_fault(reader, at, object, key, "%s", why);
    return -1;
}

double reader_number(Reader *reader, const char *at, json_t *object, const char *key, double low,
                     double high)
{
    if (json_object_get(object, key) == NULL) {
        missing(reader, at, key, "a number");
        return low;
    }
    return fault_number(reader->faults, at, object, key, low, low, high);
}

int reader_whole(Reader *reader, const char *at, json_t *object, const char *key, int low, int high)
{
    if (json_object_get(object, key) == NULL) {
        missing(reader, at, key, "a whole number");
        return low;
    }
    return fault_whole(reader->faults, at, object, key, low, low, high);
}

bool range_parse(const char *text, Range *range)
{
    char *end = NULL;

    if (!g_ascii_isdigit(*text)) return false;
    range->from = range->to = g_ascii_strtod(text, &end);
    while (*end == ' ')
        end++;
    if (*end == '\0') return isfinite(range->from);
    if (*end == '-')
        end++;
    else if (strncmp(end, "to ", 3) == 0)
        end += 3;
    else
        return false;
    while (*end == ' ')
        end++;
    if (!g_ascii_isdigit(*end)) return false;
    range->to = g_ascii_strtod(end, &end);
    return *end == '\0' && isfinite(range->from) && isfinite(range->to);
}

Range reader_range(Reader *reader, const char *at, json_t *object, const char *key, double low,
                   double high, bool required)
{
    json_t *value = json_object_get(object, key);
    Range range = {low, low};
    bool read = false;

    if (value == NULL) {
        if (required) missing(reader, at, key, "a number, or from-to such as 1-2");
        return range;
    }
    if (json_is_number(value)) {
        range.from = range.to = json_number_value(value);
        read = true;
    } else if (json_is_string(value)) {
        read = range_parse(json_string_value(value), &range);
    }
    g_autofree char *why = NULL;
    if (!read)
        why = g_strdup("must be a number, or from-to such as 1-2");
    else if (range.from > range.to)
        why = g_strdup("ends lower than it begins");
    else if (range.from < low || range.to > high)
        why = g_strdup_printf("must lie within %g to %g", low, high);
    if (why == NULL) return range;
    reader_fault(reader, at, object, key, "%s", why);
    return (Range){low, low};
}

static bool numeric(json_t *value)
{
    Range range;

    return json_is_number(value) ||
           (json_is_string(value) && range_parse(json_string_value(value), &range));
}

static void check_name(Reader *reader, const char *pointer, json_t *name)
{
    g_autofree char *text = shown(name);

    if (json_is_string(name) &&
        (strcmp(text, COMMON_PRACTICE) == 0 || json_object_get(reader->sources, text) != NULL))
        return;
    fault_add(reader->faults, pointer, text,
              "must be `common practice` or a name listed under `sources:`");
}

static void check_names(Reader *reader, const char *pointer, json_t *names)
{
    if (!json_is_array(names)) {
        check_name(reader, pointer, names);
        return;
    }
    for (size_t i = 0; i < json_array_size(names); i++) {
        g_autofree char *item = fault_pointer_item(pointer, i);
        check_name(reader, item, json_array_get(names, i));
    }
}

/* The table form: each field that is a number has its own source, or there is one for the rest. */
static void check_table(Reader *reader, const char *at, const char *pointer, json_t *object,
                        json_t *table)
{
    const char *field;
    json_t *value;

    json_object_foreach(table, field, value)
    {
        g_autofree char *below = fault_pointer(pointer, field);
        if (strcmp(field, "otherwise") != 0 && json_object_get(object, field) == NULL)
            fault_add_key(reader->faults, below, field, "names no field of this block");
        check_names(reader, below, value);
    }
    if (json_object_get(table, "otherwise") != NULL) return;
    json_object_foreach(object, field, value)
    {
        if (numeric(value) && json_object_get(table, field) == NULL) {
            g_autofree char *below = fault_pointer(at, field);
            fault_add(reader->faults, below, field,
                      "has no source: name it under `source:`, or add `otherwise:` there");
        }
    }
}

void reader_source(Reader *reader, const char *at, json_t *object)
{
    json_t *source = json_object_get(object, "source");
    const char *field;
    json_t *value;

    if (source != NULL) {
        g_autofree char *pointer = fault_pointer(at, "source");
        if (json_is_object(source))
            check_table(reader, at, pointer, object, source);
        else
            check_names(reader, pointer, source);
        return;
    }
    json_object_foreach(object, field, value)
    {
        if (!numeric(value)) continue;
        fault_add(reader->faults, at, field,
                  "has no source: add `source: common practice` or one listed under `sources:` to "
                  "this block");
        return;
    }
}
