/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/fault.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

enum { VALUE_BYTES_MAX = 80, DISTANCE_MAX = 2, KEY_BYTES_MAX = 64, KNOWN_SHOWN = 24 };

static void free_fault(void *data)
{
    Fault *fault = data;

    g_free(fault->pointer);
    g_free(fault->value);
    g_free(fault->why);
    g_free(fault);
}

Faults *faults_new(void)
{
    Faults *faults = g_new0(Faults, 1);

    faults->items = g_ptr_array_new_with_free_func(free_fault);
    return faults;
}

void faults_free(Faults *faults)
{
    if (faults == NULL) return;
    g_ptr_array_unref(faults->items);
    g_free(faults);
}

char *fault_quote(const char *value)
{
    GString *quoted = g_string_new(NULL);
    g_autofree char *valid = g_utf8_make_valid(value != NULL ? value : "", -1);

    for (const char *at = valid; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        int bytes = (int)(g_utf8_next_char(at) - at);

        if (quoted->len + (gsize)bytes > VALUE_BYTES_MAX) {
            g_string_append(quoted, "...");
            break;
        }
        if (letter == ' ' && g_str_has_suffix(quoted->str, ":")) continue;
        if (letter == '\n')
            g_string_append(quoted, "\\n");
        else if (!g_unichar_isprint(letter))
            g_string_append_c(quoted, '?');
        else
            g_string_append_len(quoted, at, bytes);
    }
    return g_string_free(quoted, FALSE);
}

static void add(Faults *faults, const char *pointer, bool at_key, const char *value,
                const char *why, va_list list)
{
    Fault *fault = g_new0(Fault, 1);

    fault->pointer = g_strdup(pointer);
    fault->at_key = at_key;
    fault->value = fault_quote(value);
    fault->why = g_strdup_vprintf(why, list);
    g_ptr_array_add(faults->items, fault);
}

void fault_add(Faults *faults, const char *pointer, const char *value, const char *why, ...)
{
    va_list list;

    va_start(list, why);
    add(faults, pointer, false, value, why, list);
    va_end(list);
}

void fault_add_key(Faults *faults, const char *pointer, const char *key, const char *why, ...)
{
    va_list list;

    va_start(list, why);
    add(faults, pointer, true, key, why, list);
    va_end(list);
}

bool faults_hold(const Faults *faults, const char *pointer)
{
    for (guint i = 0; i < faults->items->len; i++) {
        const Fault *fault = faults->items->pdata[i];
        if (strcmp(fault->pointer, pointer) == 0) return true;
    }
    return false;
}

char *fault_pointer(const char *pointer, const char *key)
{
    GString *joined = g_string_new(pointer);

    g_string_append_c(joined, '/');
    for (const char *at = key; *at != '\0'; at++) {
        if (*at == '~')
            g_string_append(joined, "~0");
        else if (*at == '/')
            g_string_append(joined, "~1");
        else
            g_string_append_c(joined, *at);
    }
    return g_string_free(joined, FALSE);
}

char *fault_pointer_item(const char *pointer, size_t index)
{
    return g_strdup_printf("%s/%" G_GSIZE_FORMAT, pointer, index);
}

char *fault_written(const Faults *faults, const char *pointer, json_t *value)
{
    const char *written = faults->written != NULL ? faults->written(faults->source, pointer) : NULL;

    if (json_is_string(value)) return g_strdup(json_string_value(value));
    if (json_is_object(value)) return g_strdup("{...}");
    if (json_is_array(value)) return g_strdup("[...]");
    if (written != NULL) return g_strdup(written);
    char *dumped = json_dumps(value, JSON_ENCODE_ANY | JSON_REAL_PRECISION(15));
    char *copy = g_strdup(dumped != NULL ? dumped : "");
    free(dumped);
    return copy;
}

/* Optimal string alignment: insert, delete, replace, swap neighbours. Keys longer than the bound
 * are far from any. */
static int distance(const char *a, const char *b)
{
    int rows[3][KEY_BYTES_MAX + 1];
    size_t length_a = strlen(a), length_b = strlen(b);

    if (length_a > KEY_BYTES_MAX || length_b > KEY_BYTES_MAX) return DISTANCE_MAX + 1;
    int *before = rows[0], *last = rows[1], *row = rows[2];
    for (size_t j = 0; j <= length_b; j++)
        last[j] = (int)j;
    for (size_t i = 1; i <= length_a; i++) {
        row[0] = (int)i;
        for (size_t j = 1; j <= length_b; j++) {
            int best = last[j - 1] + (a[i - 1] != b[j - 1]);
            best = MIN(best, MIN(last[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                best = MIN(best, before[j - 2] + 1);
            row[j] = best;
        }
        int *spare = before;
        before = last;
        last = row;
        row = spare;
    }
    return last[length_b];
}

const char *fault_nearest(const char *key, const char *const *known)
{
    const char *nearest = NULL, *longer = NULL;
    int least = DISTANCE_MAX + 1;

    for (size_t i = 0; known[i] != NULL; i++) {
        int away = distance(key, known[i]);
        /* Two slips in a short word make any word of any other. */
        if (away < least && away < (int)strlen(known[i]) && (away < 2 || strlen(key) > 5)) {
            least = away;
            nearest = known[i];
        }
        if (longer == NULL && strlen(key) >= 3 &&
            (g_str_has_prefix(known[i], key) || g_str_has_prefix(key, known[i])))
            longer = known[i];
    }
    return nearest != NULL ? nearest : longer;
}

/* Those known, or of very many those that begin as the key does; NULL where none of many does (g_free). */
static char *known_words(const char *key, const char *const *known)
{
    GString *words = g_string_new(NULL);
    bool many = g_strv_length((char **)known) > KNOWN_SHOWN;
    size_t alike = strcspn(key, "-");
    int shown = 0;

    for (size_t i = 0; known[i] != NULL && shown < KNOWN_SHOWN; i++) {
        if (many && strncmp(known[i], key, alike + 1) != 0) continue;
        g_string_append_printf(words, "%s%s", shown++ > 0 ? ", " : "", known[i]);
    }
    return g_string_free(words, shown == 0);
}

void fault_unknown_keys(Faults *faults, const char *pointer, json_t *object,
                        const char *const *known)
{
    const char *key;
    json_t *value;

    json_object_foreach(object, key, value)
    {
        if (g_strv_contains(known, key)) continue;
        g_autofree char *place = fault_pointer(pointer, key);
        const char *nearest = fault_nearest(key, known);
        if (nearest != NULL) {
            fault_add_key(faults, place, key, "unknown key; did you mean %s?", nearest);
            continue;
        }
        g_autofree char *list = known_words(key, known);
        if (list != NULL)
            fault_add_key(faults, place, key, "unknown key; known here: %s", list);
        else
            fault_add_key(faults, place, key, "unknown key, and like none that is known here");
    }
}

/* The value of a key; NULL where it is absent, empty or (a fault then) required and missing. */
static json_t *find(Faults *faults, const char *pointer, json_t *object, const char *key,
                    bool required)
{
    json_t *value = json_object_get(object, key);

    if (value == NULL && required) fault_add_key(faults, pointer, key, "is missing");
    if (!json_is_null(value)) return value;
    g_autofree char *place = fault_pointer(pointer, key);
    fault_add_key(faults, place, key, "has no value; give it one or delete the line");
    return NULL;
}

static void add_type(Faults *faults, const char *place, json_t *value, const char *wanted)
{
    g_autofree char *written = fault_written(faults, place, value);

    fault_add(faults, place, written, "%s", wanted);
}

const char *fault_text(Faults *faults, const char *pointer, json_t *object, const char *key,
                       bool required)
{
    json_t *value = find(faults, pointer, object, key, required);

    if (value == NULL || json_is_string(value)) return json_string_value(value);
    g_autofree char *place = fault_pointer(pointer, key);
    if (!json_is_number(value)) {
        add_type(faults, place, value,
                 json_is_boolean(value) ? "must be text; put it in quotes" : "must be text");
        return NULL;
    }
    /* From here on the tree holds the text, so that it lives as long as the tree does. */
    g_autofree char *written = fault_written(faults, place, value);
    json_object_set_new(object, key, json_string(written));
    return json_string_value(json_object_get(object, key));
}

double fault_number(Faults *faults, const char *pointer, json_t *object, const char *key,
                    double otherwise, double low, double high)
{
    json_t *value = find(faults, pointer, object, key, false);
    double number = json_number_value(value);

    if (value == NULL) return otherwise;
    if (json_is_number(value) && number >= low && number <= high) return number;
    g_autofree char *place = fault_pointer(pointer, key);
    g_autofree char *written = fault_written(faults, place, value);
    fault_add(faults, place, written, "must be a number from %.12g to %.12g", low, high);
    return otherwise;
}

int fault_whole(Faults *faults, const char *pointer, json_t *object, const char *key, int otherwise,
                int low, int high)
{
    json_t *value = find(faults, pointer, object, key, false);

    if (value == NULL) return otherwise;
    if (json_is_integer(value) && json_integer_value(value) >= low &&
        json_integer_value(value) <= high)
        return (int)json_integer_value(value);
    g_autofree char *place = fault_pointer(pointer, key);
    g_autofree char *written = fault_written(faults, place, value);
    fault_add(faults, place, written, "must be a whole number from %d to %d", low, high);
    return otherwise;
}

bool fault_bool(Faults *faults, const char *pointer, json_t *object, const char *key,
                bool otherwise)
{
    json_t *value = find(faults, pointer, object, key, false);

    if (value == NULL) return otherwise;
    if (json_is_boolean(value)) return json_is_true(value);
    g_autofree char *place = fault_pointer(pointer, key);
    add_type(faults, place, value, "must be true or false");
    return otherwise;
}

json_t *fault_object(Faults *faults, const char *pointer, json_t *object, const char *key,
                     bool required)
{
    json_t *value = find(faults, pointer, object, key, required);

    if (value == NULL || json_is_object(value)) return value;
    g_autofree char *place = fault_pointer(pointer, key);
    add_type(faults, place, value, "must be a group of keys");
    return NULL;
}

json_t *fault_list(Faults *faults, const char *pointer, json_t *object, const char *key,
                   bool required)
{
    json_t *value = find(faults, pointer, object, key, required);

    if (value == NULL || json_is_array(value)) return value;
    g_autofree char *place = fault_pointer(pointer, key);
    add_type(faults, place, value, "must be a list: [one, two]");
    return NULL;
}
