/* SPDX-License-Identifier: Apache-2.0 */
/* How much there is of what a person or a machine watches. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_STANDING_H
#define OSIER_ADAPTERS_STORE_FIND_STANDING_H

#include "adapters/store/store.h"

typedef struct {
    int64_t events;           /* in the ledger, of all replicas */
    int64_t clients;          /* ever, ended ones too */
    int64_t alerts[3];        /* open or taken, by class: now, today, digest */
    int64_t untaken_now;      /* of class now, and nobody has taken it */
    int64_t unread;           /* replies that a person must settle */
    int64_t oldest_unread_ms; /* INT64_MAX: none */
    int64_t glance;
    int64_t waiting;           /* messages, those being written too */
    int64_t oldest_waiting_ms; /* when it was made; INT64_MAX: none */
    int64_t due_ms;            /* the next due thing; INT64_MAX: none */
} Standing;

void find_standing(Tx *tx, Standing *standing);

#endif
