/* SPDX-License-Identifier: Apache-2.0 */
#include "core/wire/exchange.h"

enum { TIMEOUT_MS = 30 * 1000, ANSWER_MAX = 1024 * 1024 };

WireRequest *wire_request_new(ExchangeKind kind, const char *url)
{
    WireRequest *request = g_new0(WireRequest, 1);
    request->kind = kind;
    request->url = g_strdup(url);
    request->headers = g_ptr_array_new_with_free_func(g_free);
    request->timeout_ms = TIMEOUT_MS;
    request->answer_max = ANSWER_MAX;
    return request;
}

/* A secret must not lie about in freed memory; the barrier keeps the compiler from dropping the
 * write. */
static void secret_free(char *secret)
{
    if (secret == NULL) return;
    memset(secret, 0, strlen(secret));
    __asm__ volatile("" : : "r"(secret) : "memory");
    g_free(secret);
}

void wire_request_free(WireRequest *request)
{
    if (request == NULL) return;
    g_free(request->url);
    g_free(request->unix_socket);
    g_free(request->method);
    g_ptr_array_unref(request->headers);
    g_clear_pointer(&request->body, g_bytes_unref);
    g_free(request->user);
    secret_free(request->password);
    g_free(request->pin);
    g_free(request->certificate);
    secret_free(request->key);
    g_free(request->mail_from);
    g_clear_pointer(&request->mail_to, g_ptr_array_unref);
    g_free(request);
}

/* RFC 9110 section 5.6.2: tchar. */
static bool is_token(const char *text)
{
    if (*text == '\0') return false;
    for (const char *at = text; *at != '\0'; at++)
        if (!g_ascii_isalnum(*at) && strchr("!#$%&'*+-.^_`|~", *at) == NULL) return false;
    return true;
}

bool wire_request_header(WireRequest *request, const char *name, const char *value)
{
    if (!is_token(name) || strpbrk(value, "\r\n") != NULL) return false;
    g_ptr_array_add(request->headers, g_strdup_printf("%s: %s", name, value));
    return true;
}

WireResponse *wire_response_new(WirePhase phase, long status, const char *body, const char *error)
{
    WireResponse *response = g_new0(WireResponse, 1);
    response->phase = phase;
    response->status = status;
    response->body = body ? g_bytes_new(body, strlen(body)) : g_bytes_new(NULL, 0);
    response->retry_after_s = -1;
    response->error = g_strdup(error);
    return response;
}

void wire_response_free(WireResponse *response)
{
    if (response == NULL) return;
    g_bytes_unref(response->body);
    g_free(response->content_type);
    g_free(response->certificate);
    g_free(response->head);
    g_free(response->error);
    g_free(response);
}
