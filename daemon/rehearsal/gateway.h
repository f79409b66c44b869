/* SPDX-License-Identifier: Apache-2.0 */
/* The gateway's stand-in: takes texts by the clinic's own mappings, keeps the texts that people
 * write until they are polled for, and remembers every message that it saw. */
#ifndef OSIER_DAEMON_REHEARSAL_GATEWAY_H
#define OSIER_DAEMON_REHEARSAL_GATEWAY_H

#include "adapters/serve/serve.h"
#include "daemon/rehearsal/hook.h"

typedef struct Standin Standin;

/* A text has reached the phone with that number, at the gateway of that name; gateway_id is what
 * osier was told as its id. Called on the loop, before osier has its answer. */
typedef void StandinText(const char *gateway, const char *gateway_id, const char *to,
                         const char *text, void *context);

/* The clinic lives as long as the stand-in. */
Standin *standin_new(const Clinic *clinic, StandinText *text, void *context);
void standin_free(Standin *standin);

/* A ServeHandler; its context is the stand-in. Sends come to /send/GATEWAY/..., polls to
 * /poll/GATEWAY/.... */
void standin_serve(ServeRequest *request, void *standin);

/* A text for the clinic, to be polled for at the gateway of that name; copies. */
void standin_put(Standin *standin, const char *gateway, const HookMessage *message);

/* While it is sick every request is answered with 500. */
void standin_set_sick(Standin *standin, bool sick);

/* Texts to that number are refused for good. */
void standin_refuse(Standin *standin, const char *number);

/* Messages that were taken, those that were seen again after they had been taken, and requests of
 * any kind. */
typedef struct {
    int taken;
    int repeated;
    int requests;
} StandinCounts;
StandinCounts standin_counts(const Standin *standin);

#endif
