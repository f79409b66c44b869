/* SPDX-License-Identifier: Apache-2.0 */
/* Asks a gateway whether it has a message that may or may not have reached it. */
#include <string.h>

#include "adapters/sms/document.h"
#include "adapters/sms/template.h"

WireRequest *sms_ask_request(const Gateway *gateway, const char *id, SecretLookup *secret,
                             void *context, char **why)
{
    const Filling fillings[] = {{"id", id}, {NULL, NULL}};
    const Scope scope = {.fillings = fillings, .secret = secret, .context = context};
    g_autofree char *url = template_url(gateway->ask->url, &scope, why);

    if (url == NULL) return NULL;
    g_autoptr(WireRequest) request = wire_request_new(EXCHANGE_HTTP, url);
    request->method = g_strdup("GET");
    request->repeatable = true;
    request->timeout_ms = gateway->answer_ms;
    if (!template_headers(request, gateway->ask->headers, &scope, why)) return NULL;
    return g_steal_pointer(&request);
}

static bool says_none(const AskMapping *ask, long status)
{
    for (guint i = 0; i < ask->none_status->len; i++)
        if (g_array_index(ask->none_status, int, i) == status) return true;
    return false;
}

void sms_ask_settle(const Gateway *gateway, const WireResponse *response, Settlement *settlement)
{
    g_auto(Document) answer = {0};
    size_t length;
    const void *body = g_bytes_get_data(response->body, &length);
    bool good =
        response->phase == PHASE_ANSWERED && response->status >= 200 && response->status < 300;

    *settlement = (Settlement){.fate = FATE_UNSURE, .retry_after_s = -1};
    if (response->phase == PHASE_ANSWERED && says_none(gateway->ask, response->status)) {
        settlement->fate = FATE_WAITING;
        settlement->reason = g_strdup("asked; the gateway has none");
        return;
    }
    document_read(&answer, response->content_type, body, length);
    if (!good || answer.root == NULL) {
        settlement->reason = g_strdup("asked, and the gateway gave no clear answer");
        settlement->retry_after_s = response->retry_after_s;
        return;
    }
    char *id = document_text(document_find(answer.root, gateway->ask->id));
    bool has = id != NULL && *id != '\0';
    settlement->fate = has ? FATE_ACCEPTED : FATE_WAITING;
    settlement->reason =
        g_strdup(has ? "asked; the gateway has it" : "asked; the gateway has none");
    if (has)
        settlement->gateway_id = id;
    else
        g_free(id);
}
