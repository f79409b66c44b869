/* SPDX-License-Identifier: Apache-2.0 */
/* Replicas of one clinic that agree: this one calls those whose address it knows, and answers those that call it, each known by
 * its key. On the loop. */
#ifndef OSIER_DAEMON_SYNC_SYNC_H
#define OSIER_DAEMON_SYNC_SYNC_H

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"

typedef struct Sync Sync;

/* dir: the clinic folder. loopback_only: nothing but the loopback is called. Nothing happens before sync_start. */
Sync *sync_new(uv_loop_t *loop, Daemon *daemon, const char *dir, bool loopback_only);

/* Listens where the settings say, visits the peers, and goes on doing so. False and *why (g_free) where it cannot listen; the
 * peers are visited all the same. */
bool sync_start(Sync *sync, char **why);

/* The settings are others now. The same answer. */
bool sync_reload(Sync *sync, char **why);

/* Starts nothing more; what is in hand ends soon. Frees once nothing is. The loop must turn once more. */
void sync_stop(Sync *sync);
void sync_free(Sync *sync);

/* Visits and answers in hand; those that only wait for news are not counted. */
int sync_busy(const Sync *sync);

/* The record has grown: peers hear of it soon. */
void sync_moved(Sync *sync);

/* Somebody's words were erased: no snapshot that holds them stays. */
void sync_erased(Sync *sync);

/* What the loop knows, for the status (new reference): where it listens, until when a code is open, the
 * snapshot that is on its way. */
json_t *sync_json(const Sync *sync);

/* Calls of the JSON API that take their time. offer: opens a pairing, answers {"code", "until"}. join: pairs with the replica at
 * the body's "with" by the code that it shows. now: visits all peers, answers when each visit has ended. */
void sync_offer(Sync *sync, ServeRequest *request);
void sync_join(Sync *sync, ServeRequest *request, const char *code, const json_t *body);
void sync_now(Sync *sync, ServeRequest *request);

#endif
