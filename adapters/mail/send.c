/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>

#include "adapters/mail/compose.h"
#include "core/clinic/address.h"

enum { TIMEOUT_MS = 10 * 60 * 1000, REASON_MAX = 200 };

WireRequest *mail_send_request(const Gateway *gateway, const Outgoing *message, bool to_client,
                               const char *password, char **why)
{
    g_autoptr(GBytes) body = mail_compose(gateway->mail_from, message, to_client, why);

    if (body == NULL) return NULL;
    WireRequest *request = wire_request_new(EXCHANGE_SMTP, gateway->smtp->url);
    request->body = g_steal_pointer(&body);
    request->user = g_strdup(gateway->smtp->user);
    request->password = g_strdup(password);
    request->mail_from = mail_address_of(gateway->mail_from, NULL);
    request->mail_to = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(request->mail_to, g_strdup(message->to));
    request->timeout_ms = TIMEOUT_MS;
    return request;
}

/* RFC 4954 section 6: the server refuses us, not the recipient. */
static bool refuses_login(long status)
{
    return status == 530 || status == 534 || status == 535 || status == 538;
}

/* "SMTP 550: words of the server", one line. */
static char *reason_of(const WireResponse *response)
{
    size_t length;
    const char *body = g_bytes_get_data(response->body, &length);
    g_autofree char *valid = g_utf8_make_valid(body != NULL ? body : "", (gssize)length);
    g_autofree char *said = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), REASON_MAX));

    for (char *at = said; *at != '\0'; at++)
        if ((unsigned char)*at < ' ' || *at == 0x7f) *at = ' ';
    g_strstrip(said);
    return *said != '\0' ? g_strdup_printf("SMTP %ld: %s", response->status, said)
                         : g_strdup_printf("SMTP %ld", response->status);
}

static Fate fate_of(const WireResponse *response)
{
    if (response->phase == PHASE_NEVER_LEFT) return FATE_WAITING;
    if (response->phase == PHASE_UNSURE) return FATE_UNSURE;
    if (response->status >= 200 && response->status <= 299) return FATE_ACCEPTED;
    if (response->status < 500 || response->status > 599) return FATE_WAITING;
    return refuses_login(response->status) ? FATE_WAITING : FATE_REFUSED;
}

void mail_send_settle(const WireResponse *response, Settlement *settlement)
{
    *settlement = (Settlement){.fate = fate_of(response), .retry_after_s = -1};
    if (response->phase != PHASE_ANSWERED)
        settlement->reason = g_strdup(response->error);
    else if (settlement->fate != FATE_ACCEPTED)
        settlement->reason = reason_of(response);
}
