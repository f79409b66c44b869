/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/sms/document.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/calendar/date.h"

#define REPLACEMENT "\xef\xbf\xbd"

enum { RAW_MAX = 64 * 1024 };

/* Seconds reach this in the year 5138; a larger number counts milliseconds. */
#define SECONDS_MAX 1e11
#define INSTANT_MAX 253402300799999.0 /* the end of the year 9999 */

/* Bytes as valid UTF-8 without NULs; mended tells whether bytes had to be replaced (a NUL does not
 * count). */
static char *valid(const char *bytes, size_t length, bool *mended)
{
    GString *text = g_string_sized_new(length + 1);

    while (length > 0) {
        const char *end;
        g_utf8_validate(bytes, (gssize)length, &end);
        g_string_append_len(text, bytes, end - bytes);
        length -= (size_t)(end - bytes);
        bytes = end;
        if (length == 0) break;
        if (*bytes != '\0' && mended != NULL) *mended = true;
        g_string_append(text, REPLACEMENT);
        bytes++;
        length--;
    }
    return g_string_free(text, FALSE);
}

static char *cut(char *text)
{
    size_t length = strlen(text);

    if (length > RAW_MAX) {
        char *end = g_utf8_find_prev_char(text, text + RAW_MAX + 1);
        *end = '\0';
    }
    return text;
}

char *document_raw_body(const void *body, size_t length)
{
    return cut(valid(body, MIN(length, (size_t)RAW_MAX), NULL));
}

char *document_raw_value(json_t *value)
{
    char *dumped = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
    char *raw = g_strdup(dumped != NULL ? dumped : "");

    free(dumped);
    return cut(raw);
}

/* One name or value of a form, decoded. */
static char *decode(const char *text, size_t length, bool *mended)
{
    g_autoptr(GString) bytes = g_string_sized_new(length);

    for (size_t i = 0; i < length; i++) {
        int high = text[i] == '%' && i + 2 < length ? g_ascii_xdigit_value(text[i + 1]) : -1;
        int low = high >= 0 ? g_ascii_xdigit_value(text[i + 2]) : -1;
        if (low >= 0) {
            g_string_append_c(bytes, (char)(high << 4 | low));
            i += 2;
        } else {
            g_string_append_c(bytes, text[i] == '+' ? ' ' : text[i]);
        }
    }
    return valid(bytes->str, bytes->len, mended);
}

static void read_form(Document *document, const char *text)
{
    json_t *object = json_object();

    while (*text != '\0') {
        size_t length = strcspn(text, "&");
        size_t split = strcspn(text, "=&");
        const char *after = text + MIN(split + 1, length);
        g_autofree char *name = decode(text, split, &document->mended);
        g_autofree char *value = decode(after, (size_t)(text + length - after), &document->mended);
        if (length > 0 && json_object_get(object, name) != NULL) {
            document->why = g_strdup_printf("the form has '%.60s' twice", name);
            json_decref(object);
            return;
        }
        if (length > 0) json_object_set_new(object, name, json_string(value));
        text += length + (text[length] == '&');
    }
    document->root = object;
}

static void read_json(Document *document, const char *text)
{
    json_error_t error;

    document->root =
        json_loads(text, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY | JSON_ALLOW_NUL, &error);
    if (document->root == NULL)
        document->why = g_strdup_printf("no JSON: line %d, column %d: %s", error.line, error.column,
                                        error.text);
}

static bool says(const char *content_type, const char *word)
{
    g_autofree char *folded = content_type != NULL ? g_ascii_strdown(content_type, -1) : NULL;

    return folded != NULL && strstr(folded, word) != NULL;
}

/* What is quoted may be any bytes, and may have been cut within a character; a reason goes into the ledger. */
static void mend_why(Document *document)
{
    g_autofree char *why = g_steal_pointer(&document->why);

    if (why != NULL) document->why = valid(why, strlen(why), NULL);
}

void document_read(Document *document, const char *content_type, const void *body, size_t length)
{
    *document = (Document){0};
    g_autofree char *text = valid(body, length, &document->mended);
    const char *start = text + strspn(text, " \t\r\n");

    if (*start == '\0') {
        document->why = g_strdup("is empty");
    } else if (says(content_type, "json") || *start == '{' || *start == '[') {
        read_json(document, text);
    } else if (says(content_type, "x-www-form-urlencoded")) {
        read_form(document, start);
    } else if (content_type == NULL && strchr(start, '=') != NULL && *start != '<') {
        read_form(document, start);
    } else {
        document->why = g_strdup_printf("neither JSON nor a form, but %.60s",
                                        content_type != NULL ? content_type : "of no type");
    }
    mend_why(document);
}

void document_clear(Document *document)
{
    json_decref(document->root);
    g_free(document->why);
    *document = (Document){0};
}

/* One step of a pointer: "~1" is "/", "~0" is "~". */
static char *unescape(const char *token, size_t length)
{
    GString *name = g_string_sized_new(length);

    for (size_t i = 0; i < length; i++) {
        bool escape =
            token[i] == '~' && i + 1 < length && (token[i + 1] == '0' || token[i + 1] == '1');
        if (escape) i++;
        g_string_append_c(name, !escape ? token[i] : token[i] == '1' ? '/' : '~');
    }
    return g_string_free(name, FALSE);
}

static json_t *step(json_t *value, const char *name)
{
    if (json_is_object(value)) return json_object_get(value, name);
    size_t digits = strspn(name, "0123456789");
    bool index =
        digits > 0 && digits < 10 && name[digits] == '\0' && (digits == 1 || name[0] != '0');
    return json_is_array(value) && index ? json_array_get(value, (size_t)atol(name)) : NULL;
}

json_t *document_find(json_t *root, const char *pointer)
{
    if (pointer == NULL || (*pointer != '\0' && *pointer != '/')) return NULL;
    while (root != NULL && *pointer == '/') {
        size_t length = strcspn(pointer + 1, "/");
        g_autofree char *name = unescape(pointer + 1, length);
        root = step(root, name);
        pointer += length + 1;
    }
    return root;
}

char *document_text(json_t *value)
{
    if (json_is_string(value))
        return valid(json_string_value(value), json_string_length(value), NULL);
    if (json_is_integer(value))
        return g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(value));
    if (!json_is_real(value)) return NULL;
    char *dumped = json_dumps(value, JSON_ENCODE_ANY | JSON_REAL_PRECISION(17));
    char *text = g_strdup(dumped);
    free(dumped);
    return text;
}

int64_t document_instant(json_t *value)
{
    g_autofree char *text = document_text(value);
    char *end = NULL;
    int64_t ms;

    if (text == NULL || *text == '\0') return -1;
    if (instant_parse(text, &ms)) return MAX(ms, -1);
    double number = g_ascii_strtod(text, &end);
    if (*end != '\0' || !isfinite(number) || number < 0) return -1;
    if (number < SECONDS_MAX) number *= 1000;
    return number <= INSTANT_MAX ? (int64_t)number : -1;
}
