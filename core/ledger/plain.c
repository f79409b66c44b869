/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/plain.h"

#include <glib.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#define DEPTH_MAX 64
/* Whatever has so few digits fits 64 bits. */
#define DIGITS_MAX 18

static bool skip_value(const char **at, int depth);

/* Its digits, one at least. */
static size_t digits(const char **at)
{
    size_t count = 0;

    for (; g_ascii_isdigit(**at); (*at)++)
        count++;
    return count;
}

/* "\u00e9": a whole character other than U+0000. */
static bool skip_unicode(const char **at)
{
    unsigned code = 0;

    for (int i = 0; i < 4; i++, (*at)++) {
        int digit = g_ascii_xdigit_value(**at);
        if (digit < 0) return false;
        code = code << 4 | (unsigned)digit;
    }
    return code != 0 && (code < 0xd800 || code > 0xdfff);
}

static bool skip_escape(const char **at)
{
    char escaped = *(*at)++;

    if (escaped == 'u') return skip_unicode(at);
    return escaped != '\0' && strchr("\"\\/bfnrt", escaped) != NULL;
}

static bool skip_string(const char **at)
{
    if (*(*at)++ != '"') return false;
    while (**at != '"') {
        if ((unsigned char)**at < 0x20) return false;
        if (*(*at)++ == '\\' && !skip_escape(at)) return false;
    }
    (*at)++;
    return true;
}

static bool skip_exponent(const char **at)
{
    if (**at != 'e' && **at != 'E') return true;
    (*at)++;
    if (**at == '+' || **at == '-') (*at)++;
    size_t count = digits(at);
    return count >= 1 && count <= 2;
}

static bool skip_number(const char **at)
{
    if (**at == '-') (*at)++;
    bool zero = **at == '0';
    size_t count = digits(at);
    if (count == 0 || count > DIGITS_MAX || (zero && count > 1)) return false;
    if (**at == '.') {
        (*at)++;
        count = digits(at);
        if (count == 0 || count > 2 * DIGITS_MAX) return false;
    }
    return skip_exponent(at);
}

static bool skip_word(const char **at, const char *word)
{
    if (strncmp(*at, word, strlen(word)) != 0) return false;
    *at += strlen(word);
    return true;
}

static bool skip_array(const char **at, int depth)
{
    (*at)++;
    if (**at == ']') return skip_word(at, "]");
    do {
        if (!skip_value(at, depth)) return false;
    } while (*(*at)++ == ',');
    return (*at)[-1] == ']';
}

/* Names are compared as they are written, so none may be escaped. */
static bool skip_name(const char **at, const char **name, size_t *length)
{
    const char *before = *name;
    size_t before_length = *length;

    *name = *at + 1;
    if (!skip_string(at)) return false;
    *length = (size_t)(*at - *name) - 1;
    if (memchr(*name, '\\', *length) != NULL) return false;
    if (before == NULL) return true;
    int order = memcmp(before, *name, MIN(before_length, *length));
    return order < 0 || (order == 0 && before_length < *length);
}

static bool skip_object(const char **at, int depth)
{
    const char *name = NULL;
    size_t length = 0;

    (*at)++;
    if (**at == '}') return skip_word(at, "}");
    do {
        if (!skip_name(at, &name, &length) || *(*at)++ != ':' || !skip_value(at, depth))
            return false;
    } while (*(*at)++ == ',');
    return (*at)[-1] == '}';
}

static bool skip_value(const char **at, int depth)
{
    if (depth == 0) return false;
    switch (**at) {
    case '{': return skip_object(at, depth - 1);
    case '[': return skip_array(at, depth - 1);
    case '"': return skip_string(at);
    case 't': return skip_word(at, "true");
    case 'f': return skip_word(at, "false");
    case 'n': return skip_word(at, "null");
    default: return skip_number(at);
    }
}

/* Eight bytes at a time: none has its highest bit, none is nought (by which the bit below would be borrowed). */
bool plain_is_text(const char *text, size_t length)
{
    const uint64_t high = UINT64_C(0x8080808080808080), one = UINT64_C(0x0101010101010101);
    size_t at = 0;
    uint64_t eight;

    for (; length - at >= sizeof eight; at += sizeof eight) {
        memcpy(&eight, text + at, sizeof eight);
        if (((eight | (eight - one)) & high) != 0) break;
    }
    return g_utf8_validate_len(text + at, length - at, NULL);
}

bool plain_is_object(const char *text)
{
    const char *at = text;

    return *at == '{' && skip_value(&at, DEPTH_MAX) && *at == '\0';
}
