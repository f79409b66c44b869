/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/serve/request.h"

#include <string.h>

static char *unescape(const char *text, size_t length, const char *illegal)
{
    g_autofree char *decoded = g_uri_unescape_segment(text, text + length, illegal);
    if (decoded == NULL || !g_utf8_validate(decoded, -1, NULL)) return NULL;
    return g_steal_pointer(&decoded);
}

/* "a=1&b=x+y&c": application/x-www-form-urlencoded; a name alone has an empty value. False where an
 * escape is bad. */
static bool read_query(GHashTable *table, char *query)
{
    g_strdelimit(query, "+", ' ');
    g_auto(GStrv) parts = g_strsplit(query, "&", -1);
    for (char **part = parts; *part != NULL; part++) {
        if (**part == '\0') continue;
        size_t name_length = strcspn(*part, "=");
        const char *value = *part + name_length + ((*part)[name_length] == '=');
        g_autofree char *name = unescape(*part, name_length, NULL);
        char *decoded = unescape(value, strlen(value), NULL);
        if (name == NULL || decoded == NULL) {
            g_free(decoded);
            return false;
        }
        g_hash_table_replace(table, g_steal_pointer(&name), decoded);
    }
    return true;
}

ServeRequest *request_new(const char *method, const char *target)
{
    if (target[0] != '/') return NULL;
    size_t path_length = strcspn(target, "?");
    char *path = unescape(target, path_length, "/");
    if (path == NULL) return NULL;

    ServeRequest *request = g_new0(ServeRequest, 1);
    request->holders = 2;
    request->method = g_strdup(method);
    request->path = path;
    request->query = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    request->headers = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    request->body = g_bytes_new(NULL, 0);
    g_autofree char *query = g_strdup(target[path_length] == '?' ? target + path_length + 1 : "");
    if (read_query(request->query, query)) return request;
    request->holders = 1;
    request_release(request);
    return NULL;
}

void request_header(ServeRequest *request, const char *name, const char *value)
{
    g_autofree char *lower = g_ascii_strdown(name, -1);
    const char *before = g_hash_table_lookup(request->headers, lower);
    char *joined = before ? g_strconcat(before, ", ", value, NULL) : g_strdup(value);
    g_hash_table_replace(request->headers, g_steal_pointer(&lower), joined);
}

void request_body(ServeRequest *request, GBytes *body)
{
    g_bytes_unref(request->body);
    request->body = body;
}

void request_release(ServeRequest *request)
{
    if (--request->holders > 0) return;
    g_free(request->method);
    g_free(request->path);
    g_hash_table_unref(request->query);
    g_hash_table_unref(request->headers);
    g_bytes_unref(request->body);
    g_free(request->pin);
    g_free(request->content_type);
    g_strfreev(request->answer_headers);
    g_strfreev(request->also);
    g_clear_pointer(&request->answer, g_bytes_unref);
    g_free(request);
}

const char *serve_method(const ServeRequest *request)
{
    return request->method;
}

const char *serve_path(const ServeRequest *request)
{
    return request->path;
}

const char *serve_pin(const ServeRequest *request)
{
    return request->pin;
}

const char *serve_query(const ServeRequest *request, const char *name)
{
    return g_hash_table_lookup(request->query, name);
}

const char *serve_header(const ServeRequest *request, const char *name)
{
    g_autofree char *lower = g_ascii_strdown(name, -1);
    return g_hash_table_lookup(request->headers, lower);
}

GBytes *serve_body(const ServeRequest *request)
{
    return request->body;
}

void serve_answer(ServeRequest *request, int status, const char *content_type,
                  const char *const *headers, GBytes *body)
{
    g_assert(!request->answered && status >= 200 && status <= 599);
    request->answered = true;
    request->status = status;
    request->content_type = g_strdup(content_type);
    request->answer_headers = g_strdupv((char **)headers);
    request->answer = body ? body : g_bytes_new(NULL, 0);
    if (request->told != NULL) request->told(request, request->owner);
    request_release(request);
}

void serve_answer_json(ServeRequest *request, int status, char *json)
{
    serve_answer(request, status, "application/json", NULL, g_bytes_new_take(json, strlen(json)));
}

void serve_known(ServeRequest *request)
{
    request->known = true;
}

void serve_also(ServeRequest *request, const char *const *headers)
{
    size_t had = request->also != NULL ? g_strv_length(request->also) : 0;
    size_t more = g_strv_length((char **)headers);

    request->also = g_renew(char *, request->also, had + more + 1);
    for (size_t i = 0; i < more; i++)
        request->also[had + i] = g_strdup(headers[i]);
    request->also[had + more] = NULL;
}

ServeStream *serve_stream(ServeRequest *request, const char *content_type, const char *filler,
                          ServeStreamGone *gone, void *context)
{
    ServeStream *stream =
        request->opens != NULL ? request->opens(request, filler, gone, context) : NULL;

    request->stream = stream;
    serve_answer(request, stream != NULL ? 200 : 503, stream != NULL ? content_type : NULL, NULL,
                 NULL);
    return stream;
}

void serve_stream_send(ServeStream *stream, const char *text)
{
    stream->send(stream, text);
}

void serve_stream_end(ServeStream *stream)
{
    stream->end(stream);
}
