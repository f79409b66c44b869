/* SPDX-License-Identifier: Apache-2.0 */
/* Refusals of one gateway that wait until it is known who is at fault: the next success says the person, a third refusal
 * in a row says the gateway, and after OUTCOME_HOLD_MS each is taken to be the person's. */
#ifndef OSIER_DAEMON_RELAY_DOUBTS_H
#define OSIER_DAEMON_RELAY_DOUBTS_H

#include "daemon/relay/recorder.h"

typedef struct Doubts Doubts;

/* The recorder stays the caller's. */
Doubts *doubts_new(Recorder *recorder);

/* What is still in doubt is forgotten: see doubts_end. */
void doubts_free(Doubts *doubts);

/* Takes a refused claim over, and records that it waits. */
void doubts_hold(Doubts *doubts, Claim *claim, Settlement settlement, int64_t now_ms);

/* It is known who was at fault in all of them: the gateway (sick), or each time the person. */
void doubts_end(Doubts *doubts, bool sick);

/* Ends those that have lasted long enough, each by its own time: a later one does not keep an earlier one waiting.
 * *next_ms is lowered to when to call again. True where there were some. */
bool doubts_end_old(Doubts *doubts, int64_t now_ms, int64_t *next_ms);

#endif
