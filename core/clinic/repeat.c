/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/repeat.h"

/* By what the gateway promises and what the message is for. */
static const struct {
    Repeat alert; /* alerts and safety texts */
    Repeat other;
} POLICY[] = {
    [GATEWAY_KEYED] = {.alert = REPEAT_THERE_FIRST, .other = REPEAT_THERE},
    [GATEWAY_ASKED] = {.alert = REPEAT_THERE_FIRST, .other = REPEAT_THERE},
    [GATEWAY_BLIND] = {.alert = REPEAT_ANYWHERE, .other = REPEAT_NOT},
};

GatewayClass gateway_class(const Gateway *gateway)
{
    if (gateway == NULL) return GATEWAY_BLIND;
    if (gateway->takes_key) return GATEWAY_KEYED;
    return gateway->ask != NULL || gateway->can_be_asked ? GATEWAY_ASKED : GATEWAY_BLIND;
}

bool message_is_worth_twice(MessageKind kind)
{
    return kind == MESSAGE_ALERT || kind == MESSAGE_SAFETY;
}

Repeat repeat_policy(const Gateway *gateway, MessageKind kind)
{
    GatewayClass class = gateway_class(gateway);

    return message_is_worth_twice(kind) ? POLICY[class].alert : POLICY[class].other;
}
