/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/json_look.h"

#include <math.h>
#include <string.h>

static G_GNUC_NORETURN void complain(const json_t *document, const char *field, const char *wanted)
{
    g_autofree char *text = json_dumps(document, JSON_INDENT(1) | JSON_ENCODE_ANY);

    g_error("%s is not %s in %s", field, wanted, text != NULL ? text : "nothing");
}

void look_is(const json_t *document, const char *field, const char *value)
{
    if (g_strcmp0(json_string_value(json_object_get(document, field)), value) != 0)
        complain(document, field, value);
}

/* 4 and 4.0 are one number. */
static bool same(const json_t *left, const json_t *right)
{
    if (json_is_number(left) && json_is_number(right))
        return json_number_value(left) == json_number_value(right);
    if (json_is_array(left) && json_array_size(left) == json_array_size(right)) {
        for (size_t i = 0; i < json_array_size(left); i++)
            if (!same(json_array_get(left, i), json_array_get(right, i))) return false;
        return true;
    }
    return json_equal(left, right);
}

void look_json(const json_t *document, const char *expected)
{
    json_t *wanted = json_loads(expected, 0, NULL);
    const char *field;
    json_t *value;

    g_assert_nonnull(wanted);
    json_object_foreach(wanted, field, value)
    {
        const json_t *found = json_object_get(document, field);
        if (found == NULL || !same(found, value)) complain(document, field, expected);
    }
    json_decref(wanted);
}

void look_near(const json_t *document, const char *field, double value, double within)
{
    const json_t *found = json_object_get(document, field);

    if (!json_is_number(found) || fabs(json_number_value(found) - value) > within) {
        g_autofree char *wanted = g_strdup_printf("%g", value);
        complain(document, field, wanted);
    }
}

char *look_copy(const json_t *document, const char *field)
{
    const char *value = json_string_value(json_object_get(document, field));

    if (value == NULL) complain(document, field, "a text");
    return g_strdup(value);
}

int look_count(const json_t *list, const char *field, const char *value)
{
    int found = 0;

    for (size_t i = 0; i < json_array_size(list); i++)
        found += g_strcmp0(json_string_value(json_object_get(json_array_get(list, i), field)),
                           value) == 0;
    return found;
}

json_t *look_only(json_t *list, const char *field, const char *value)
{
    json_t *item;
    size_t i;

    if (look_count(list, field, value) != 1) complain(list, field, value);
    json_array_foreach(list, i, item)
    {
        if (g_strcmp0(json_string_value(json_object_get(item, field)), value) == 0) return item;
    }
    return NULL;
}
