/* SPDX-License-Identifier: Apache-2.0 */
/* Records what became of messages. Outcomes that come while one job runs go together in the next;
 * with no room on the device they wait. */
#ifndef OSIER_DAEMON_RELAY_RECORDER_H
#define OSIER_DAEMON_RELAY_RECORDER_H

#include "daemon/jobs/settle.h"

typedef struct Recorder Recorder;

/* recorded is called on the loop after each commit. */
Recorder *recorder_new(Desk *desk, void (*recorded)(void *context), void *context);
void recorder_free(Recorder *recorder);

/* Takes an outcome over (claim and settlement with it). */
void recorder_add(Recorder *recorder, Claim *claim, Settlement settlement, OutcomeManner manner);

/* A gateway has fallen sick: an alert goes with the next outcomes. */
void recorder_sick(Recorder *recorder, const char *gateway);

/* Records what waits, unless a job is at it. */
void recorder_flush(Recorder *recorder);

/* The same, but lets outcomes that come thick and fast gather for a few milliseconds, so that one commit holds many.
 * last: nothing else is under way, so nothing is worth waiting for. */
void recorder_flush_soon(Recorder *recorder, bool last);

/* There is room on the device again: what was kept back is recorded at once. */
void recorder_unblock(Recorder *recorder);

/* Outcomes on their way into the store; those that wait for room on the device are none. */
int recorder_waiting(const Recorder *recorder);

#endif
