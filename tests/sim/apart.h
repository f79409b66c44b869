/* SPDX-License-Identifier: Apache-2.0 */
/* One clinic on two to five replicas, each a whole daemon on its twins, from one seed: people work on all of them through the JSON
 * API while lines are cut, parcels come twice, late or in part, clocks are wrong and a laptop is away for months. Then the lines are
 * mended, and all must agree. */
#ifndef OSIER_TESTS_SIM_APART_H
#define OSIER_TESTS_SIM_APART_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    int histories;
    int calls;    /* that were taken */
    int visits;   /* parcels that arrived */
    int messages; /* whose bytes left to a client */
    int events;
    int joined; /* clients told to be one */
    int duties; /* the duty to send, taken */
    int erased;
} ApartTally;

typedef struct Apart Apart;

/* The settings are read once for all histories. */
Apart *apart_new(void);
void apart_free(Apart *apart);

/* Plays one history and adds to tally. False where a rule was broken, which has been printed with its seed. */
bool apart_run(Apart *apart, uint64_t seed, bool loud, ApartTally *tally);

#endif
