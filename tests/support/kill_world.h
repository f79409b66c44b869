/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic whose osierd, or whose server, is killed again and again, and what must hold in the end. */
#ifndef OSIER_TESTS_SUPPORT_KILL_WORLD_H
#define OSIER_TESTS_SUPPORT_KILL_WORLD_H

#include "tests/support/site_gateway.h"

#define KILL_CLIENTS 12

typedef struct {
    Site *site;
    StandIn *gateway;
    char *schema; /* on a server; NULL: the store is a file */
    bool server;  /* it is the server that is killed */
    Site *other;  /* the folder that stands by and takes over at each kill, or NULL */
    int port;
    Speech speech;
    GRand *random;
    int64_t now_ms;
    gint64 step_us; /* how long a step takes, about */
    char *clients[KILL_CLIENTS];
    GHashTable *sent_in;       /* texts that the world sent and that may not be lost */
    GHashTable *being_written; /* ids of messages that were being written at a kill */
    int replies;
    int cut_short; /* kills in the midst of a step */
} KillWorld;

/* Every reply that the world sent is in the ledger, once. */
void kill_check_replies(KillWorld *world);

/* Every session up to the day before yesterday has its end; *asked grows by those that were asked. */
void kill_check_sessions(KillWorld *world, int *asked);

/* Whatever the gateway saw is in the ledger, once unless it was being written at a kill; whatever the
 * ledger calls accepted, the gateway saw. */
void kill_check_messages(KillWorld *world);

#endif
