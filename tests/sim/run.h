/* SPDX-License-Identifier: Apache-2.0 */
/* One simulated clinic from one seed: weeks of its life with every fault, then days of calm. */
#ifndef OSIER_TESTS_SIM_RUN_H
#define OSIER_TESTS_SIM_RUN_H

#include <stdbool.h>
#include <stdint.h>

/* Faults that a run may be spared. */
typedef enum {
    FAULT_WEATHER = 1 << 0,  /* a gateway that is sick for a while, and strays */
    FAULT_AWAY = 1 << 1,     /* the daemon is off for hours or days */
    FAULT_REFUSALS = 1 << 2, /* a number that the gateway refuses */
    FAULT_CUTS = 1 << 3,     /* the power goes at any point */
    FAULT_FULL = 1 << 4,     /* the disk fills up */
    FAULT_CLOCK = 1 << 5,    /* the clock is set, forward and back */
    FAULT_LOST = 1 << 6,     /* the database goes away in the midst of a job */
    FAULT_ALL = (1 << 7) - 1
} RunFault;

/* What is not as the seed draws it. */
typedef struct {
    int days;         /* simulated; 0: 20 to 40 */
    int people;       /* at most; 0: 6 to 13 */
    int storm;        /* at most: 0 calm to 3 rough */
    unsigned without; /* of RunFault */
    bool loud;        /* prints all that happens */
    bool quiet;       /* prints not even a broken rule */
} RunShape;

/* The seed's own draw. */
#define RUN_AS_DRAWN ((RunShape){.storm = 3})

/* "weather" and so on; 0 for another word. */
unsigned run_fault_named(const char *name);

/* The words of several, with commas (g_free). */
char *run_fault_names(unsigned faults);

typedef struct {
    char rule[80]; /* that was broken, or empty */
    int days;      /* simulated */
    int steps;
    int lives;    /* of the daemon */
    int messages; /* whose bytes left, by their ids */
    int replies;  /* in the ledger */
    int alerts;
    int events;
} RunTally;

/* Runs one. False where a rule was broken, which has been printed. */
bool run_seed(uint64_t seed, const RunShape *shape, RunTally *tally);

#endif
