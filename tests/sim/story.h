/* SPDX-License-Identifier: Apache-2.0 */
/* One simulated stretch of a clinic's life: people who answer in every way, clinicians who take alerts, faults of every
 * kind, and after each step the rules that protect people. */
#ifndef OSIER_TESTS_SIM_STORY_H
#define OSIER_TESTS_SIM_STORY_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    int days;
    int texts;   /* that reached a phone */
    int replies; /* that were acknowledged */
    int alerts;
    int crashes;
} StoryFigures;

/* Lives through so many days. False where a rule was broken: the seed, the step, the rule and what happened last have been
 * printed. */
bool story_live(uint64_t seed, int days, StoryFigures *figures);

#endif
