/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway delivers to a clinic: messages and receipts, written and signed by the clinic's
 * own settings. Values only. */
#ifndef OSIER_DAEMON_REHEARSAL_HOOK_H
#define OSIER_DAEMON_REHEARSAL_HOOK_H

#include "adapters/sms/sms_gateway.h"

/* A text on its way to the clinic. */
typedef struct {
    const char *id;
    const char *from;
    const char *text;
    int64_t at_ms;
} HookMessage;

/* The item of a poll, or a webhook's body, with each field where the pointers will find it (new
 * reference). Pointers may be NULL. */
json_t *hook_item(const HookMessage *message, const char *id, const char *from, const char *text,
                  const char *at);

/* A request to origin ("http://127.0.0.1:8751") and the mapping's path, signed. now_s: seconds by
 * the real clock, which is what signatures are judged by. NULL where a secret is missing. */
WireRequest *hook_message(const WebhookMapping *mapping, const char *origin,
                          const HookMessage *message, int64_t now_s, SecretLookup *secret,
                          void *context);
WireRequest *hook_receipt(const ReceiptMapping *mapping, const char *origin, const char *gateway_id,
                          bool delivered, int64_t now_s, SecretLookup *secret, void *context);

/* Adds what the scheme asks for over the request's body. False where a secret is missing. */
bool hook_sign(const Signature *signature, WireRequest *request, const char *id, int64_t now_s,
               SecretLookup *secret, void *context);

#endif
