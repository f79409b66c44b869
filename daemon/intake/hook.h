/* SPDX-License-Identifier: Apache-2.0 */
/* Hears a gateway's webhooks: messages and receipts. */
#ifndef OSIER_DAEMON_INTAKE_HOOK_H
#define OSIER_DAEMON_INTAKE_HOOK_H

#include "adapters/serve/serve.h"
#include "daemon/desk/desk.h"

typedef struct Hooks Hooks;

Hooks *hooks_new(Desk *desk);
void hooks_free(Hooks *hooks);

/* Answers a request: 2xx only after the commit; 401 bad signature, 404, 405, 429 too many, 503 cannot store; signed but
 * unreadable is 202 and an unread entry. */
void hooks_hear(Hooks *hooks, ServeRequest *request);

/* What was refused, and what meant nothing: see hook_watch_json (new reference). */
json_t *hooks_json(const Hooks *hooks);

#endif
