/* SPDX-License-Identifier: Apache-2.0 */
/* Takes HTTP requests apart, as far as a stand-in server needs it. */
#ifndef OSIER_TESTS_SUPPORT_HTTP_REQUEST_H
#define OSIER_TESTS_SUPPORT_HTTP_REQUEST_H

#include <glib.h>
#include <jansson.h>

typedef struct {
    char *path;          /* without the query */
    GHashTable *query;   /* decoded */
    GHashTable *headers; /* names in small letters */
    GHashTable *form;    /* NULL where the body is none */
    json_t *json;        /* NULL where the body is none */
} HttpRequest;

/* Takes one whole request off what was heard; NULL where more must come first. */
HttpRequest *http_request_take(GString *heard);
void http_request_free(HttpRequest *request);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(HttpRequest, http_request_free)

/* The field that "json:/a/b", "form:x", "query:x" or "header:x" names (g_free), or NULL. */
char *http_request_field(const HttpRequest *request, const char *where);

#endif
