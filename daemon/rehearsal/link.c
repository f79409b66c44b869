/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/link.h"

#include <string.h>

#include "core/calendar/date.h"

enum { PATIENCE_MS = 90 * 1000, ANSWER_MAX = 256 * 1024 * 1024 };

typedef struct {
    uv_loop_t *loop;
    WireResponse *response;
} Wait;

/* A turn of the loop that has had its answer in a timer would go on to sleep in its poll. */
static void keep(WireResponse *response, void *context)
{
    Wait *wait = context;

    wait->response = response;
    uv_stop(wait->loop);
}

WireResponse *link_do(Link *link, WireRequest *request)
{
    Wait wait = {link->loop, NULL};

    net_submit(link->net, request, keep, &wait);
    while (wait.response == NULL)
        uv_run(link->loop, UV_RUN_ONCE);
    return wait.response;
}

static void complain(Link *link, const char *path, const char *why)
{
    if (link->problem == NULL) link->problem = g_strdup_printf("%s: %s", path, why);
}

static json_t *ask(Link *link, const char *method, const char *path, json_t *body, long *status)
{
    g_autofree char *url = g_strconcat("http://osierd", path, NULL);
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, url);
    char *text = body != NULL ? json_dumps(body, JSON_COMPACT) : NULL;

    json_decref(body);
    request->unix_socket = g_strdup(link->socket);
    request->method = g_strdup(method);
    request->timeout_ms = PATIENCE_MS;
    request->answer_max = ANSWER_MAX;
    request->repeatable = strcmp(method, "GET") == 0;
    if (text != NULL) request->body = g_bytes_new(text, strlen(text));
    free(text);
    WireResponse *response = link_do(link, request);
    gsize length;
    const char *bytes = g_bytes_get_data(response->body, &length);
    json_t *answer =
        response->phase == PHASE_ANSWERED ? json_loadb(bytes, length, JSON_DECODE_ANY, NULL) : NULL;
    if (answer == NULL)
        complain(link, path, response->error != NULL ? response->error : "answered no JSON");
    if (status != NULL) *status = response->status;
    wire_response_free(response);
    return answer;
}

/* A step to the instant that it stands at ends once nothing is going on. */
static void settle(Link *link)
{
    if (link->now_ms == NULL) return;
    g_autofree char *to = instant_format_exact(*link->now_ms);
    json_decref(ask(link, "POST", "/clock", json_pack("{s:s}", "to", to), NULL));
}

WireResponse *link_deliver(Link *link, WireRequest *request)
{
    WireResponse *response = link_do(link, request);

    settle(link);
    return response;
}

json_t *link_ask(Link *link, const char *method, const char *path, json_t *body, long *status)
{
    json_t *answer = ask(link, method, path, body, status);

    if (strcmp(method, "POST") == 0 && strcmp(path, "/clock") != 0) settle(link);
    return answer;
}

json_t *link_must(Link *link, const char *method, const char *path, json_t *body)
{
    long status = 0;
    json_t *answer = link_ask(link, method, path, body, &status);

    if (answer == NULL || status == 200) return answer;
    char *text = json_dumps(answer, JSON_COMPACT | JSON_ENCODE_ANY);
    complain(link, path, text);
    free(text);
    json_decref(answer);
    return NULL;
}
