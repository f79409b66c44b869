/* SPDX-License-Identifier: Apache-2.0 */
/* A made-up history of every kind of event that a store on SQLite wrote, and another replica whose events it took in. */
#ifndef OSIER_TESTS_SUPPORT_TWO_REPLICAS_H
#define OSIER_TESTS_SUPPORT_TWO_REPLICAS_H

#include "tests/support/store_bench.h"

#define TWO_REPLICAS_CLIENTS 3

typedef struct {
    Bench *bench;
    Store *other; /* in memory */
    GRand *random;
    bool apart; /* no event names what is another client's, as osier writes them */
    GPtrArray *bars[TWO_REPLICAS_CLIENTS];
    GPtrArray *events; /* of Event: the other's, on their way */
    int64_t carried;
} TwoReplicas;

TwoReplicas two_replicas_new(guint32 seed, bool apart);
void two_replicas_free(TwoReplicas *two);

/* Lives through some hundreds of events, and shuts the bench. */
void two_replicas_live(TwoReplicas *two);

/* A job that writes a dozen of them; context: the TwoReplicas. */
bool two_replicas_write(Tx *tx, void *context);

#endif
