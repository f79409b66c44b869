/* SPDX-License-Identifier: Apache-2.0 */
/* What readings of range say about readiness. Only the practice room uses it. */
#ifndef OSIER_CORE_PRACTICE_READINESS_RANGE_H
#define OSIER_CORE_PRACTICE_READINESS_RANGE_H

#include "core/practice/readiness.h"

/* The exit's measure on every side of the plan, from a clinician's reading that is fresh enough;
 * adds its reasons. True where the exit asks for none. */
bool range_reached(const ReadyAsk *ask, Reasons *reasons);

/* A loss beyond the error of the method, on a side of the plan: the latest reading of this stage
 * beside the one before it and beside the first of the stage. Adds its reasons. */
bool range_lost(const ReadyAsk *ask, Reasons *reasons);

#endif
