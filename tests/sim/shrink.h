/* SPDX-License-Identifier: Apache-2.0 */
/* A seed that breaks a rule, made small: fewer days, fewer people, fewer faults, as long as the same rule breaks. */
#ifndef OSIER_TESTS_SIM_SHRINK_H
#define OSIER_TESTS_SIM_SHRINK_H

#include "tests/sim/run.h"

/* Runs one, as run_seed does. */
typedef bool ShrinkRun(uint64_t seed, const RunShape *shape, RunTally *tally);

/* The smallest shape found in at most runs_most runs. days: how many the run that broke took. */
RunShape shrink(ShrinkRun *run, uint64_t seed, const RunShape *shape, const RunTally *broke,
                int runs_most);

/* How it is played again: the words behind build/sim (g_free). */
char *shrink_words(uint64_t seed, const RunShape *shape);

#endif
