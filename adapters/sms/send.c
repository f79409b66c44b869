/* SPDX-License-Identifier: Apache-2.0 */
/* Out: a message as a gateway's request, and the gateway's answer as a fate.
 *
 *   what came back                                    fate
 *   never left                                        waiting
 *   left, no whole answer                             unsure
 *   accepted status, id found or none asked for       accepted
 *   accepted status, JSON or form without the id      accepted  (with a reason: it most probably went)
 *   accepted status, neither JSON nor form            unsure    (a portal's page is no gateway's word)
 *   refused status                                    refused
 *   any other status                                  waiting   (tried again, after Retry-After)
 *
 * What follows from unsure hangs on what the gateway promises: core/clinic/repeat.h. docs/gateways.md tells the clinic the
 * same. */
#include <string.h>

#include "adapters/sms/document.h"
#include "adapters/sms/template.h"

enum { REASON_MAX = 200 };

static bool has_content_type(const WireRequest *request)
{
    for (guint i = 0; i < request->headers->len; i++)
        if (g_ascii_strncasecmp(g_ptr_array_index(request->headers, i), "content-type:", 13) == 0)
            return true;
    return false;
}

static void set_body(WireRequest *request, char *text, const char *content_type)
{
    request->body = g_bytes_new_take(text, strlen(text));
    if (!has_content_type(request)) wire_request_header(request, "Content-Type", content_type);
}

static bool fill_body(WireRequest *request, const SendMapping *send, const Scope *scope, char **why)
{
    if (send->form != NULL) {
        char *form = template_form(send->form, scope, why);
        if (form == NULL) return false;
        set_body(request, form, "application/x-www-form-urlencoded");
    } else if (send->json != NULL) {
        json_t *value = template_json(send->json, scope, why);
        if (value == NULL) return false;
        char *dumped = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY);
        json_decref(value);
        set_body(request, g_strdup(dumped), "application/json");
        free(dumped);
    }
    return true;
}

/* The URL with the query behind it. */
static char *fill_url(const SendMapping *send, const Scope *scope, char **why)
{
    g_autofree char *url = template_url(send->url, scope, why);

    if (url == NULL || send->query == NULL) return g_steal_pointer(&url);
    g_autofree char *query = template_form(send->query, scope, why);
    if (query == NULL) return NULL;
    return g_strconcat(url, strchr(url, '?') != NULL ? "&" : "?", query, NULL);
}

WireRequest *sms_send_request(const Gateway *gateway, const Outgoing *message, SecretLookup *secret,
                              void *context, char **why)
{
    const SendMapping *send = &gateway->send;
    const Filling fillings[] = {{"to", message->to},
                                {"text", message->text},
                                {"id", message->id},
                                {"from", gateway->from},
                                {NULL, NULL}};
    const Scope scope = {.fillings = fillings, .secret = secret, .context = context};
    g_autofree char *url = fill_url(send, &scope, why);

    if (url == NULL) return NULL;
    g_autoptr(WireRequest) request = wire_request_new(EXCHANGE_HTTP, url);
    request->method = g_strdup(send->method != NULL ? send->method : "POST");
    request->repeatable = gateway->takes_key;
    request->timeout_ms = gateway->answer_ms;
    if (!template_headers(request, send->headers, &scope, why)) return NULL;
    if (!fill_body(request, send, &scope, why)) return NULL;
    return g_steal_pointer(&request);
}

static bool listed(GArray *statuses, long status)
{
    for (guint i = 0; statuses != NULL && i < statuses->len; i++)
        if (g_array_index(statuses, int, i) == status) return true;
    return false;
}

/* One line of at most 200 characters. */
static char *one_line(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    char *line = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), REASON_MAX));

    for (char *at = line; *at != '\0'; at++)
        if ((unsigned char)*at < ' ' || *at == 0x7f) *at = ' ';
    return g_strstrip(line);
}

static void settle(Settlement *settlement, Fate fate, const char *reason)
{
    settlement->fate = fate;
    settlement->reason = reason != NULL ? one_line(reason) : NULL;
}

static void settle_accepted(const Gateway *gateway, const Document *answer, Settlement *settlement)
{
    const char *pointer = gateway->send.accepted_id;

    if (pointer == NULL) {
        settle(settlement, FATE_ACCEPTED, NULL);
    } else if (answer->root == NULL) {
        g_autofree char *reason = g_strdup_printf("the answer is unreadable: %s", answer->why);
        settle(settlement, FATE_UNSURE, reason);
    } else {
        g_autofree char *id = document_text(document_find(answer->root, pointer));
        g_autofree char *reason = g_strdup_printf("accepted without an id at %s", pointer);
        bool found = id != NULL && *id != '\0';
        settle(settlement, FATE_ACCEPTED, found ? NULL : reason);
        if (found) settlement->gateway_id = g_steal_pointer(&id);
    }
}

static void settle_refused(const Gateway *gateway, const Document *answer, long status,
                           Settlement *settlement)
{
    g_autofree char *told =
        document_text(document_find(answer->root, gateway->send.refused_reason));
    g_autofree char *reason = told != NULL && *told != '\0'
                                  ? g_strdup_printf("HTTP %ld: %s", status, told)
                                  : g_strdup_printf("HTTP %ld", status);

    settle(settlement, FATE_REFUSED, reason);
}

void sms_send_settle(const Gateway *gateway, const WireResponse *response, Settlement *settlement)
{
    *settlement = (Settlement){.retry_after_s = -1};
    if (response->phase == PHASE_NEVER_LEFT) {
        settle(settlement, FATE_WAITING, response->error);
        return;
    }
    if (response->phase == PHASE_UNSURE) {
        settle(settlement, FATE_UNSURE, response->error);
        return;
    }
    g_auto(Document) answer = {0};
    size_t length;
    const void *body = g_bytes_get_data(response->body, &length);
    document_read(&answer, response->content_type, body, length);
    if (listed(gateway->send.accepted_status, response->status)) {
        settle_accepted(gateway, &answer, settlement);
    } else if (listed(gateway->send.refused_status, response->status)) {
        settle_refused(gateway, &answer, response->status, settlement);
    } else {
        g_autofree char *reason = g_strdup_printf("HTTP %ld", response->status);
        settle(settlement, FATE_WAITING, reason);
        settlement->retry_after_s = response->retry_after_s;
    }
}
