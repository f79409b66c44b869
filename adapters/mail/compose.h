/* SPDX-License-Identifier: Apache-2.0 */
/* Composes mail with GMime and makes the SMTP request; no I/O. */
#ifndef OSIER_ADAPTERS_MAIL_COMPOSE_H
#define OSIER_ADAPTERS_MAIL_COMPOSE_H

#include "core/clinic/clinic.h"
#include "core/wire/exchange.h"
#include "core/wire/message.h"

/* Before any other call of this room. */
void mail_start(void);

/* The whole message as bytes with CRLF: From, To, Subject, Date, Message-ID <id@domain of from>, Auto-Submitted:
 * auto-generated, List-Unsubscribe (mailto) for messages to clients, text/plain or multipart/alternative with html.
 * Deterministic (boundaries follow from the id). NULL and *why where an address cannot be read. */
GBytes *mail_compose(const char *from, const Outgoing *message, bool to_client, char **why);

/* The SMTP request for it. password: the secret's value or NULL. */
WireRequest *mail_send_request(const Gateway *gateway, const Outgoing *message, bool to_client, const char *password,
                               char **why);

/* What the answer means: 2xx accepted; 4xx try again; 5xx refused; cut after the final dot unsure. */
void mail_send_settle(const WireResponse *response, Settlement *settlement);

/* The bare address of "Name <address>" (g_free), or NULL. */
char *mail_address(const char *text);

/* A plausible mail address: one @, a dot in the domain, no spaces or control characters, at most 254 bytes. */
bool mail_address_valid(const char *text);

#endif
