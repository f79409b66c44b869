/* SPDX-License-Identifier: Apache-2.0 */
/* One simulated clinic from one seed: weeks of its life with every fault, then days of calm. */
#ifndef OSIER_TESTS_SIM_RUN_H
#define OSIER_TESTS_SIM_RUN_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    int days; /* simulated */
    int steps;
    int lives;    /* of the daemon */
    int messages; /* whose bytes left, by their ids */
    int replies;  /* in the ledger */
    int alerts;
    int events;
} RunTally;

/* Runs one; days 0: as many as the seed draws (20 to 40). False where a rule was broken, which has
 * been printed. */
bool run_seed(uint64_t seed, int days, bool loud, RunTally *tally);

#endif
