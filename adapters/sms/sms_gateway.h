/* SPDX-License-Identifier: Apache-2.0 */
/* Translates between messages and the HTTP of a text gateway, by the clinic's mapping. No I/O:
 * values in, values out. */
#ifndef OSIER_ADAPTERS_SMS_SMS_GATEWAY_H
#define OSIER_ADAPTERS_SMS_SMS_GATEWAY_H

#include "core/clinic/clinic.h"
#include "core/wire/exchange.h"
#include "core/wire/message.h"

/* The value of a secret by name, or NULL. Lent. */
typedef const char *SecretLookup(const char *name, void *context);

/* The request that sends a message. NULL and *why (g_free) where a value cannot stand in its place
 * (CR, LF or NUL in a header) or a secret is missing. repeatable follows takes_key. */
WireRequest *sms_send_request(const Gateway *gateway, const Outgoing *message, SecretLookup *secret,
                              void *context, char **why);

/* What the answer means, by the table in send.c: refused only for a refused status; unsure where a message that was written may
 * or may not have been taken. Where the exchange ended because the message's end had passed (response->end_passed) it is
 * waiting, and the last gate lets it lapse. settlement is filled, and cleared by the caller with settlement_clear. */
void sms_send_settle(const Gateway *gateway, const WireResponse *response, Settlement *settlement);

/* The request that asks the gateway whether it has a message of that id, and what the answer means: accepted (with the
 * gateway's id), waiting (it has none: send it), or unsure (no clear answer). The gateway has ask. */
WireRequest *sms_ask_request(const Gateway *gateway, const char *id, SecretLookup *secret,
                             void *context, char **why);
void sms_ask_settle(const Gateway *gateway, const WireResponse *response, Settlement *settlement);

/* The request that polls for incoming messages after a cursor ("" the first time). */
WireRequest *sms_poll_request(const Gateway *gateway, const char *cursor, SecretLookup *secret,
                              void *context, char **why);

/* Reads a poll's answer: items (of Incoming, freed by the array), and the next cursor (g_free;
 * NULL: unchanged). False and *why where the answer as a whole cannot be read; then nothing moves. True
 * with *why: the items are read, and the cursor is there but cannot be used. */
bool sms_poll_read(const Gateway *gateway, const WireResponse *response, GPtrArray *items,
                   char **cursor, char **why);

/* The same of receipts, where the gateway's are asked for (receipts->poll): receipts (of Receipt, freed by the array). An item
 * without an id or a status is left out. */
WireRequest *sms_receipts_request(const Gateway *gateway, const char *cursor, SecretLookup *secret,
                                  void *context, char **why);
bool sms_receipts_read(const Gateway *gateway, const WireResponse *response, GPtrArray *receipts,
                       char **cursor, char **why);

/* Judges a webhook's signature. now_s: seconds by the real clock. headers by lookup. Constant-time
 * compare. */
typedef const char *HeaderLookup(const char *name, void *context);
bool webhook_signed(const Signature *signature, HeaderLookup *header, void *header_context,
                    const void *body, size_t length, int64_t now_s, SecretLookup *secret,
                    void *context);

/* Reads a webhook's body, JSON or form by content type. Always gives an Incoming; problem and raw
 * are set where it is unreadable, lacks a sender or a text, or lost bytes that are no UTF-8 (then
 * what is left is in text all the same). */
Incoming *webhook_read(const WebhookMapping *mapping, const char *content_type, const void *body,
                       size_t length);

/* Reads a receipt. NULL where it is unreadable. */
Receipt *receipt_read(const ReceiptMapping *mapping, const char *content_type, const void *body,
                      size_t length);

#endif
