/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/http_request.h"

#include <stdlib.h>
#include <string.h>

static GHashTable *table_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
}

static GHashTable *read_form(const char *text)
{
    return g_uri_parse_params(text, -1, "&", G_URI_PARAMS_WWW_FORM, NULL);
}

static GHashTable *read_headers(char **lines)
{
    GHashTable *headers = table_new();

    for (; *lines != NULL; lines++) {
        const char *colon = strchr(*lines, ':');
        if (colon == NULL) continue;
        g_autofree char *name = g_strndup(*lines, (gsize)(colon - *lines));
        g_hash_table_insert(headers, g_ascii_strdown(name, -1), g_strstrip(g_strdup(colon + 1)));
    }
    return headers;
}

static void read_target(HttpRequest *request, const char *line)
{
    g_auto(GStrv) words = g_strsplit(line, " ", 3);

    g_assert_cmpint((int)g_strv_length(words), ==, 3);
    const char *question = strchr(words[1], '?');
    request->path =
        question == NULL ? g_strdup(words[1]) : g_strndup(words[1], (gsize)(question - words[1]));
    request->query = question == NULL ? table_new() : read_form(question + 1);
}

HttpRequest *http_request_take(GString *heard)
{
    const char *end = strstr(heard->str, "\r\n\r\n");

    if (end == NULL) return NULL;
    g_autofree char *head = g_strndup(heard->str, (gsize)(end - heard->str));
    g_auto(GStrv) lines = g_strsplit(head, "\r\n", -1);
    g_autoptr(GHashTable) headers = read_headers(lines + 1);
    const char *announced = g_hash_table_lookup(headers, "content-length");
    gsize length = announced != NULL ? strtoul(announced, NULL, 10) : 0;
    gsize start = strlen(head) + 4;
    if (heard->len < start + length) return NULL;
    HttpRequest *request = g_new0(HttpRequest, 1);
    const char *type = g_hash_table_lookup(headers, "content-type");
    g_autofree char *body = g_strndup(heard->str + start, length);
    read_target(request, lines[0]);
    request->headers = g_steal_pointer(&headers);
    if (type != NULL && g_str_has_prefix(type, "application/x-www-form-urlencoded"))
        request->form = read_form(body);
    else if (length > 0)
        request->json = json_loads(body, 0, NULL);
    g_string_erase(heard, 0, (gssize)(start + length));
    return request;
}

void http_request_free(HttpRequest *request)
{
    if (request == NULL) return;
    g_free(request->path);
    g_hash_table_unref(request->query);
    g_hash_table_unref(request->headers);
    if (request->form != NULL) g_hash_table_unref(request->form);
    json_decref(request->json);
    g_free(request);
}

static char *by_pointer(const json_t *document, const char *pointer)
{
    g_auto(GStrv) parts = g_strsplit(pointer + 1, "/", -1);

    for (char **part = parts; *part != NULL && document != NULL; part++)
        document = json_is_array(document) ? json_array_get(document, (size_t)atoi(*part))
                                           : json_object_get(document, *part);
    return g_strdup(json_string_value(document));
}

char *http_request_field(const HttpRequest *request, const char *where)
{
    if (g_str_has_prefix(where, "json:")) return by_pointer(request->json, where + 5);
    if (g_str_has_prefix(where, "query:"))
        return g_strdup(g_hash_table_lookup(request->query, where + 6));
    if (g_str_has_prefix(where, "header:"))
        return g_strdup(g_hash_table_lookup(request->headers, where + 7));
    g_assert_true(g_str_has_prefix(where, "form:"));
    return request->form == NULL ? NULL : g_strdup(g_hash_table_lookup(request->form, where + 5));
}
