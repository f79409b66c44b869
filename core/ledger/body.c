/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/body.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* Members of an object that are put in order without asking for memory. */
#define MEMBERS_FEW 32

typedef struct {
    const char *key;
    const json_t *value;
} Member;

typedef struct {
    GString *text;
    bool set_order;    /* members as they were set; else by their names */
    size_t real_flags; /* of jansson */
} Writer;

static void add_value(const Writer *writer, const json_t *value);

static void add_escape(GString *text, unsigned char character)
{
    static const char SHORT[] = "\"\"\\\\\bb\ff\nn\rr\tt";

    for (size_t i = 0; i + 1 < sizeof SHORT; i += 2)
        if ((unsigned char)SHORT[i] == character) {
            g_string_append_c(text, '\\');
            g_string_append_c(text, SHORT[i + 1]);
            return;
        }
    g_string_append_printf(text, "\\u%04X", character);
}

static void add_string(GString *text, const char *string, size_t length)
{
    const char *end = string + length;

    g_string_append_c(text, '"');
    while (string < end) {
        const char *plain = string;
        while (string < end && (unsigned char)*string >= 0x20 && *string != '"' && *string != '\\')
            string++;
        g_string_append_len(text, plain, string - plain);
        if (string < end) add_escape(text, (unsigned char)*string++);
    }
    g_string_append_c(text, '"');
}

static void add_integer(GString *text, json_int_t integer)
{
    char digits[24];
    char *at = digits + sizeof digits;
    guint64 left = integer < 0 ? -(guint64)integer : (guint64)integer;

    do {
        *--at = (char)('0' + left % 10);
        left /= 10;
    } while (left > 0);
    if (integer < 0) *--at = '-';
    g_string_append_len(text, at, digits + sizeof digits - at);
}

#define WHOLE_MAX 1e15

/* Prices are mostly whole or nought. How any other number is written is jansson's business. */
static void add_real(const Writer *writer, const json_t *value)
{
    GString *text = writer->text;
    double real = json_real_value(value);

    if (real > -WHOLE_MAX && real < WHOLE_MAX && real == (double)(json_int_t)real &&
        !(real == 0 && signbit(real))) {
        add_integer(text, (json_int_t)real);
        g_string_append(text, ".0");
        return;
    }
    char *number = json_dumps(value, JSON_ENCODE_ANY | writer->real_flags);

    g_string_append(text, number);
    free(number);
}

static int by_key(const void *a, const void *b)
{
    return strcmp(((const Member *)a)->key, ((const Member *)b)->key);
}

/* Most bodies are made in this order. */
static void put_in_order(Member *members, size_t count)
{
    size_t i = 1;

    while (i < count && by_key(&members[i - 1], &members[i]) < 0)
        i++;
    if (i < count) qsort(members, count, sizeof *members, by_key);
}

static void add_object(const Writer *writer, const json_t *object)
{
    GString *text = writer->text;
    size_t count = json_object_size(object), n = 0;
    Member few[MEMBERS_FEW];
    g_autofree Member *many = count > MEMBERS_FEW ? g_new(Member, count) : NULL;
    Member *members = many != NULL ? many : few;
    const char *key;
    json_t *value;

    json_object_foreach((json_t *)object, key, value) members[n++] = (Member){key, value};
    if (!writer->set_order) put_in_order(members, n);
    g_string_append_c(text, '{');
    for (size_t i = 0; i < n; i++) {
        if (i > 0) g_string_append_c(text, ',');
        add_string(text, members[i].key, strlen(members[i].key));
        g_string_append_c(text, ':');
        add_value(writer, members[i].value);
    }
    g_string_append_c(text, '}');
}

static void add_array(const Writer *writer, const json_t *array)
{
    GString *text = writer->text;
    size_t i;
    json_t *value;

    g_string_append_c(text, '[');
    json_array_foreach(array, i, value)
    {
        if (i > 0) g_string_append_c(text, ',');
        add_value(writer, value);
    }
    g_string_append_c(text, ']');
}

static void add_value(const Writer *writer, const json_t *value)
{
    GString *text = writer->text;

    switch (json_typeof(value)) {
    case JSON_OBJECT: add_object(writer, value); return;
    case JSON_ARRAY: add_array(writer, value); return;
    case JSON_STRING: add_string(text, json_string_value(value), json_string_length(value)); return;
    case JSON_INTEGER: add_integer(text, json_integer_value(value)); return;
    case JSON_REAL: add_real(writer, value); return;
    case JSON_TRUE: g_string_append(text, "true"); return;
    case JSON_FALSE: g_string_append(text, "false"); return;
    case JSON_NULL: g_string_append(text, "null"); return;
    }
    g_assert_not_reached();
}

char *body_text(const json_t *value)
{
    GString *text = g_string_sized_new(768);

    add_value(&(Writer){.text = text}, value);
    return g_string_free(text, FALSE);
}

void body_append_as_set(GString *text, const json_t *value)
{
    add_value(&(Writer){text, true, JSON_REAL_PRECISION(15)}, value);
}
