/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/mapping.h"

#include <string.h>

#include "adapters/sms/document.h"
#include "daemon/rehearsal/likeness.h"

void sent_clear(Sent *sent)
{
    g_free(sent->to);
    g_free(sent->text);
    g_free(sent->id);
    *sent = (Sent){0};
}

/* The part of a url from its path on: "/v1/messages?x={y}", "/" where it has none. */
static const char *path_of(const char *url)
{
    const char *host = strstr(url, "://");
    const char *after = host != NULL ? host + 3 : url;
    size_t length = strcspn(after, "/?");

    return after[length] != '\0' ? after + length : "/";
}

char *mapping_move_url(const char *url, const char *origin, const char *base)
{
    const char *path = path_of(url);

    return g_strconcat(origin, base, *path == '/' ? "" : "/", path, NULL);
}

/* The query of a template, name by name, against the request's own. */
static void match_query(const char *query, const ServeRequest *request, GHashTable *found)
{
    g_auto(GStrv) pairs = g_strsplit(query, "&", -1);

    for (int i = 0; pairs[i] != NULL; i++) {
        char *equals = strchr(pairs[i], '=');
        if (equals == NULL) continue;
        *equals = '\0';
        const char *value = serve_query(request, pairs[i]);
        if (value != NULL) likeness_match(equals + 1, value, found);
    }
}

static void match_url(const char *url, const ServeRequest *request, GHashTable *found)
{
    g_autofree char *template = g_strdup(path_of(url));
    char *query = strchr(template, '?');

    if (query != NULL) {
        *query = '\0';
        match_query(query + 1, request, found);
    }
    likeness_match(template, serve_path(request), found);
}

static void match_headers(json_t *headers, const ServeRequest *request, GHashTable *found)
{
    const char *name;
    json_t *item;

    json_object_foreach(headers, name, item)
    {
        const char *value = serve_header(request, name);
        if (value != NULL && json_is_string(item))
            likeness_match(json_string_value(item), value, found);
    }
}

static void match_fields(json_t *query, const ServeRequest *request, GHashTable *found)
{
    const char *name;
    json_t *item;

    json_object_foreach(query, name, item)
    {
        const char *value = serve_query(request, name);
        if (value != NULL && json_is_string(item))
            likeness_match(json_string_value(item), value, found);
    }
}

static void match_body(const SendMapping *mapping, const ServeRequest *request, GHashTable *found)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);
    const json_t *template = mapping->form != NULL ? mapping->form : mapping->json;
    g_auto(Document) document = {0};

    if (template == NULL || length == 0) return;
    document_read(&document, serve_header(request, "Content-Type"), body, length);
    if (document.root != NULL) likeness_match_json(template, document.root, found);
}

bool mapping_read_send(const SendMapping *mapping, const ServeRequest *request, Sent *sent)
{
    g_autoptr(GHashTable) found = likeness_new();

    match_body(mapping, request, found);
    match_fields(mapping->query, request, found);
    match_url(mapping->url, request, found);
    match_headers(mapping->headers, request, found);
    *sent = (Sent){.to = g_strdup(g_hash_table_lookup(found, "to")),
                   .text = g_strdup(g_hash_table_lookup(found, "text")),
                   .id = g_strdup(g_hash_table_lookup(found, "id"))};
    return sent->to != NULL && sent->text != NULL;
}

char *mapping_read_cursor(const PollMapping *mapping, const ServeRequest *request)
{
    g_autoptr(GHashTable) found = likeness_new();

    match_url(mapping->url, request, found);
    match_headers(mapping->headers, request, found);
    const char *cursor = g_hash_table_lookup(found, "cursor");
    return g_strdup(cursor != NULL ? cursor : "");
}

/* One step of a pointer, unescaped: ~1 is "/", ~0 is "~". */
static char *step_name(const char *step, size_t length)
{
    g_autofree char *raw = g_strndup(step, length);
    g_auto(GStrv) slashes = g_strsplit(raw, "~1", -1);
    g_autofree char *joined = g_strjoinv("/", slashes);
    g_auto(GStrv) tildes = g_strsplit(joined, "~0", -1);

    return g_strjoinv("~", tildes);
}

static void put(json_t **place, const char *pointer, json_t *value)
{
    if (*pointer != '/') {
        json_decref(*place);
        *place = value;
        return;
    }
    size_t length = strcspn(pointer + 1, "/");
    g_autofree char *name = step_name(pointer + 1, length);
    bool in_array = json_is_array(*place) || (!json_is_object(*place) && strcmp(name, "0") == 0);
    json_t *below = in_array ? json_array_get(*place, 0) : json_object_get(*place, name);
    if (!json_is_array(*place) && !json_is_object(*place)) {
        json_decref(*place);
        *place = in_array ? json_array() : json_object();
    }
    json_incref(below);
    put(&below, pointer + 1 + length, value);
    if (!in_array)
        json_object_set_new(*place, name, below);
    else if (json_array_size(*place) == 0)
        json_array_append_new(*place, below);
    else
        json_array_set_new(*place, 0, below);
}

void mapping_put(json_t **root, const char *pointer, json_t *value)
{
    if (pointer == NULL)
        json_decref(value);
    else
        put(root, pointer, value);
}
