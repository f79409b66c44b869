/* SPDX-License-Identifier: Apache-2.0 */
/* Who sends: the one replica of a clinic that plans, sends, polls, reads and escalates. Store thread. */
#ifndef OSIER_DAEMON_DESK_SENDER_H
#define OSIER_DAEMON_DESK_SENDER_H

#include "adapters/store/store.h"

typedef struct {
    bool here;      /* this replica has the duty */
    char *replica;  /* who has it; NULL: nobody does */
    int64_t epoch;  /* of that duty; 0: nobody ever took it, and the clinic's only replica has it */
    char *by;       /* who gave it, or NULL */
    int64_t since;  /* when it was taken, 0 at epoch 0 */
    int64_t served; /* the latest epoch at which this replica had the duty; -1: never */
} Sender;

/* Never NULL. */
Sender *sender_load(Tx *tx);
void sender_free(Sender *sender);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Sender, sender_free)

/* Has this replica the duty? Cheaper than loading. */
bool sender_is_here(Tx *tx);

/* Why this replica sends nothing, in one line (g_free); NULL where it sends. */
char *sender_why_not(Tx *tx, const Sender *sender);

/* From now on this replica is one of several: it sends only if it takes the duty. */
void sender_join(Tx *tx);

/* A replica's name, else its id (g_free). */
char *replica_name(Tx *tx, const char *replica);

#endif
