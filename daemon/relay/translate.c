/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/translate.h"

#include "adapters/mail/compose.h"
#include "adapters/sms/sms_gateway.h"
#include "core/clinic/repeat.h"

Outgoing claim_outgoing(const Claim *claim)
{
    return (Outgoing){.id = claim->id,
                      .to = claim->to,
                      .text = claim->text,
                      .subject = claim->subject,
                      .html = claim->html,
                      .calendar = claim->calendar,
                      .unsubscribe = claim->unsubscribe,
                      .at_ms = claim->at_ms};
}

bool claim_is_to_ask(const Claim *claim, const Gateway *gateway)
{
    return claim->doubtful && gateway_class(gateway) == GATEWAY_ASKED;
}

WireRequest *claim_request(const Claim *claim, const Gateway *gateway, Settings *settings,
                           char **why)
{
    Outgoing message = claim_outgoing(claim);

    if (claim_is_to_ask(claim, gateway))
        return sms_ask_request(gateway, claim->id, settings_secret, settings, why);
    if (gateway->kind == GATEWAY_HTTP_SMS)
        return sms_send_request(gateway, &message, settings_secret, settings, why);
    g_autofree char *password = gateway->smtp->password != NULL
                                    ? settings_fill_secret(settings, gateway->smtp->password)
                                    : NULL;
    return mail_send_request(gateway, &message, claim->to_client, password, why);
}

Settlement claim_settle(const Gateway *gateway, GatewayKind kind, bool asking,
                        const WireResponse *response)
{
    Settlement settlement = {.fate = FATE_WAITING, .retry_after_s = -1};

    if (asking && gateway != NULL && gateway->ask != NULL)
        sms_ask_settle(gateway, response, &settlement);
    else if (asking)
        settlement = (Settlement){.fate = FATE_UNSURE, .retry_after_s = -1};
    else if (response->phase == PHASE_NEVER_LEFT)
        settlement.reason = g_strdup(response->error);
    else if (kind == GATEWAY_MAIL)
        mail_send_settle(response, &settlement);
    else if (gateway != NULL && gateway->kind == kind)
        sms_send_settle(gateway, response, &settlement);
    else /* it left the settings while the message was under way */
        settlement = (Settlement){.fate = FATE_UNSURE,
                                  .reason = g_strdup("the gateway has left the settings"),
                                  .retry_after_s = -1};
    return settlement;
}
