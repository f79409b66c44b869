/* SPDX-License-Identifier: Apache-2.0 */
/* Bodies are read a million at a time, and jansson looks at each character through several calls. What is written as the ledger
 * writes it (body_text) is read here, straight from its text; whatever is not, down to the last escape, is left to jansson, so
 * that both take the same texts and give the same trees. */
#include <stdbool.h>
#include <string.h>

#include "core/ledger/body.h"
#include "core/ledger/plain.h"

/* Deeper, or with more digits, it is jansson's business. */
enum { DEPTH_MAX = 32, DIGITS_MAX = 18, NUMBER_MAX = 40 };

static json_t *read_value(const char **at, int depth);

/* What stands between quotes; false where it has an escape that is not of one letter, or is no text. */
typedef struct {
    const char *at;
    size_t length;
    bool escaped;
} Span;

static bool skip_string(const char **at, Span *span)
{
    const unsigned char *c = (const unsigned char *)*at;
    unsigned char all = 0;

    if (*c++ != '"') return false;
    *span = (Span){.at = (const char *)c};
    for (; *c != '"'; c++) {
        if (*c < 0x20) return false;
        if (*c == '\\') {
            span->escaped = true;
            if (*++c == '\0' || strchr("\"\\/bfnrt", *c) == NULL) return false;
        }
        all |= *c;
    }
    span->length = (size_t)((const char *)c - span->at);
    *at = (const char *)c + 1;
    return all < 0x80 || plain_is_text(span->at, span->length);
}

static char unescaped(char letter)
{
    switch (letter) {
    case 'b': return '\b';
    case 'f': return '\f';
    case 'n': return '\n';
    case 'r': return '\r';
    case 't': return '\t';
    default: return letter;
    }
}

static json_t *string_of(const Span *span)
{
    if (!span->escaped) return json_stringn_nocheck(span->at, span->length);
    g_autofree char *text = g_malloc(span->length + 1);
    size_t n = 0;

    for (size_t i = 0; i < span->length; i++)
        text[n++] = span->at[i] == '\\' ? unescaped(span->at[++i]) : span->at[i];
    return json_stringn_nocheck(text, n);
}

static json_t *read_string(const char **at)
{
    Span span;

    return skip_string(at, &span) ? string_of(&span) : NULL;
}

/* What is no whole number is read by jansson, alone. */
static json_t *read_real(const char **at)
{
    char number[NUMBER_MAX + 1];
    size_t length = strspn(*at, "0123456789+-.eE");

    if (length > NUMBER_MAX) return NULL;
    memcpy(number, *at, length);
    number[length] = '\0';
    *at += length;
    return json_loads(number, JSON_DECODE_ANY, NULL);
}

static json_t *read_number(const char **at)
{
    const char *c = *at;
    bool negative = *c == '-';
    json_int_t number = 0;

    if (negative) c++;
    const char *first = c;
    for (; g_ascii_isdigit(*c) && c - first < DIGITS_MAX; c++)
        number = number * 10 + (*c - '0');
    if (c == first || g_ascii_isdigit(*c) || (*first == '0' && c - first > 1)) return NULL;
    if (*c == '.' || *c == 'e' || *c == 'E') return read_real(at);
    *at = c;
    return json_integer(negative ? -number : number);
}

static json_t *read_word(const char **at, const char *word, json_t *value)
{
    if (strncmp(*at, word, strlen(word)) != 0) return NULL;
    *at += strlen(word);
    return value;
}

static bool read_items(const char **at, json_t *array, int depth)
{
    do {
        json_t *value = read_value(at, depth);
        if (value == NULL) return false;
        json_array_append_new(array, value);
    } while (*(*at)++ == ',');
    return (*at)[-1] == ']';
}

/* None twice, as they stand in the order of their names. */
static bool is_behind(const Span *before, const Span *name)
{
    if (before->at == NULL) return true;
    int order = memcmp(before->at, name->at, MIN(before->length, name->length));
    return order < 0 || (order == 0 && before->length < name->length);
}

static bool read_members(const char **at, json_t *object, int depth)
{
    Span before = {0}, name;

    do {
        if (!skip_string(at, &name) || name.escaped || !is_behind(&before, &name)) return false;
        if (*(*at)++ != ':') return false;
        json_t *value = read_value(at, depth);
        if (value == NULL) return false;
        json_object_setn_new_nocheck(object, name.at, name.length, value);
        before = name;
    } while (*(*at)++ == ',');
    return (*at)[-1] == '}';
}

/* A list or a table, its first bracket taken. */
static json_t *read_many(const char **at, json_t *many, int depth)
{
    char end = json_is_array(many) ? ']' : '}';

    if (*++(*at) == end) {
        (*at)++;
        return many;
    }
    if (depth > 0 &&
        (json_is_array(many) ? read_items(at, many, depth - 1) : read_members(at, many, depth - 1)))
        return many;
    json_decref(many);
    return NULL;
}

static json_t *read_value(const char **at, int depth)
{
    switch (**at) {
    case '{': return read_many(at, json_object(), depth);
    case '[': return read_many(at, json_array(), depth);
    case '"': return read_string(at);
    case 't': return read_word(at, "true", json_true());
    case 'f': return read_word(at, "false", json_false());
    case 'n': return read_word(at, "null", json_null());
    default: return read_number(at);
    }
}

json_t *body_read(const char *text)
{
    const char *at = text;

    if (text == NULL) return NULL;
    json_t *tree = *text == '{' ? read_value(&at, DEPTH_MAX) : NULL;
    if (tree != NULL && *at == '\0') return tree;
    json_decref(tree);
    return json_loads(text, JSON_REJECT_DUPLICATES, NULL);
}
