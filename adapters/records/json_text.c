/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/json_text.h"

#include <stdbool.h>
#include <string.h>

static void append_escaped(GString *text, unsigned char byte)
{
    static const char SHORT[] = {
        ['\b'] = 'b', ['\t'] = 't', ['\n'] = 'n', ['\f'] = 'f', ['\r'] = 'r'};

    g_string_append_c(text, '\\');
    if (byte == '"' || byte == '\\')
        g_string_append_c(text, (char)byte);
    else if (byte < sizeof SHORT && SHORT[byte] != '\0')
        g_string_append_c(text, SHORT[byte]);
    else
        g_string_append_printf(text, "u%04X", byte);
}

static void append_string(GString *text, const char *bytes, size_t length)
{
    size_t plain = 0;

    g_string_append_c(text, '"');
    for (size_t i = 0; i < length; i++) {
        unsigned char byte = (unsigned char)bytes[i];
        if (byte >= 0x20 && byte != '"' && byte != '\\') continue;
        g_string_append_len(text, bytes + plain, (gssize)(i - plain));
        append_escaped(text, byte);
        plain = i + 1;
    }
    g_string_append_len(text, bytes + plain, (gssize)(length - plain));
    g_string_append_c(text, '"');
}

/* A real is told from an integer by its point or exponent; the exponent has no sign that it does not need, and no noughts before
 * it. */
static void append_real(GString *text, double value)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];

    g_ascii_formatd(digits, sizeof digits, "%.15g", value);
    char *exponent = strchr(digits, 'e');
    if (exponent != NULL) *exponent++ = '\0';
    g_string_append(text, digits);
    if (exponent == NULL && strchr(digits, '.') == NULL) g_string_append(text, ".0");
    if (exponent == NULL) return;
    g_string_append(text, *exponent == '-' ? "e-" : "e");
    g_string_append(text, exponent + strspn(exponent, "+-0"));
}

static void append_object(GString *text, json_t *object)
{
    const char *name;
    json_t *value;
    bool first = true;

    g_string_append_c(text, '{');
    json_object_foreach(object, name, value)
    {
        if (!first) g_string_append_c(text, ',');
        first = false;
        append_string(text, name, strlen(name));
        g_string_append_c(text, ':');
        json_text_append(text, value);
    }
    g_string_append_c(text, '}');
}

static void append_array(GString *text, const json_t *array)
{
    g_string_append_c(text, '[');
    for (size_t i = 0; i < json_array_size(array); i++) {
        if (i > 0) g_string_append_c(text, ',');
        json_text_append(text, json_array_get(array, i));
    }
    g_string_append_c(text, ']');
}

void json_text_append(GString *text, const json_t *document)
{
    switch (json_typeof(document)) {
    case JSON_OBJECT: append_object(text, (json_t *)document); return;
    case JSON_ARRAY: append_array(text, document); return;
    case JSON_STRING:
        append_string(text, json_string_value(document), json_string_length(document));
        return;
    case JSON_INTEGER:
        g_string_append_printf(text, "%" JSON_INTEGER_FORMAT, json_integer_value(document));
        return;
    case JSON_REAL: append_real(text, json_real_value(document)); return;
    case JSON_TRUE: g_string_append(text, "true"); return;
    case JSON_FALSE: g_string_append(text, "false"); return;
    case JSON_NULL: g_string_append(text, "null"); return;
    }
    g_assert_not_reached();
}
