/* SPDX-License-Identifier: Apache-2.0 */
/* Composes mail with GMime and makes the SMTP request; no I/O. Addresses are judged by
 * core/clinic/address.h. */
#ifndef OSIER_ADAPTERS_MAIL_COMPOSE_H
#define OSIER_ADAPTERS_MAIL_COMPOSE_H

#include "core/clinic/clinic.h"
#include "core/wire/exchange.h"
#include "core/wire/message.h"

/* Before any other call of this room; again does no harm. */
void mail_start(void);

/* The whole message as bytes with CRLF: From, To, Subject, Date, Message-ID <id@domain of from>, In-Reply-To and References
 * where it answers a mail, Auto-Submitted (RFC 3834: auto-replied where it answers, else auto-generated), List-Unsubscribe (RFC
 * 2369, mailto: a mail that says STOP; and RFC 8058, with List-Unsubscribe-Post, where the message has a link) for messages to
 * clients, text/plain or multipart/alternative with html, whose pictures (images.h) stand beside it in a multipart/related; a
 * calendar file follows as an attachment in a multipart/mixed. No line is longer than RFC 5322 allows, control characters in
 * the subject become spaces. Deterministic (the boundary follows from the id). NULL and *why (g_free) where an address cannot
 * be read. */
GBytes *mail_compose(const char *from, const Outgoing *message, bool to_client, char **why);

/* The SMTP request for it. password: the secret's value or NULL. Waits ten minutes for the word
 * after the last dot (RFC 5321 4.5.3.2.6), for whoever hangs up earlier makes duplicates. */
WireRequest *mail_send_request(const Gateway *gateway, const Outgoing *message, bool to_client,
                               const char *password, char **why);

/* What the answer means: 2xx accepted; 4xx, a refused log-in (530, 534, 535, 538) and an odd code
 * try again; other 5xx refused; never left try again; cut in between unsure. */
void mail_send_settle(const WireResponse *response, Settlement *settlement);

#endif
