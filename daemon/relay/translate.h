/* SPDX-License-Identifier: Apache-2.0 */
/* Between a claim and the exchange that carries it: which request is made of it, and what the answer means. */
#ifndef OSIER_DAEMON_RELAY_TRANSLATE_H
#define OSIER_DAEMON_RELAY_TRANSLATE_H

#include "core/wire/exchange.h"
#include "daemon/desk/settings.h"
#include "daemon/jobs/settle.h"

/* Lent: lives as long as the claim. */
Outgoing claim_outgoing(const Claim *claim);

/* May the gateway hold it already, and can it say so? Then it is asked first. */
bool claim_is_to_ask(const Claim *claim, const Gateway *gateway);

/* The request for a claim by HTTP or mail. NULL with *why (g_free): the message, as it stands, cannot be sent by that gateway. */
WireRequest *claim_request(const Claim *claim, const Gateway *gateway, Settings *settings,
                           char **why);

/* What became of it. gateway NULL: it has left the settings; kind is what it was when the message left (settlement_clear). */
Settlement claim_settle(const Gateway *gateway, GatewayKind kind, bool asking,
                        const WireResponse *response);

#endif
