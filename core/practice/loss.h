/* SPDX-License-Identifier: Apache-2.0 */
/* Losses that are looked into and not stretched: of standing height above all, which in people with fragile bones may be a
 * vertebra that has given way, with no fall and little pain. A programme's measure says from what loss on it is a sign. */
#ifndef OSIER_CORE_PRACTICE_LOSS_H
#define OSIER_CORE_PRACTICE_LOSS_H

#include "core/practice/measure.h"

typedef enum {
    LOSS_NONE, /* none beyond the error of the method, or of a measure that has no such sign */
    LOSS_REAL, /* beyond the error */
    LOSS_SIGN  /* of the measure's own limit and over */
} LossKind;

typedef struct {
    LossKind kind;
    double loss;  /* in the measure's unit, above 0 where there is one */
    double limit; /* what it has reached: the minimal detectable change, or the measure's limit */
    int beside;   /* index of the reading that it is told from; -1 where there is none */
} Loss;

/* The last of n readings (oldest first) beside the best before it, from the one numbered since on. Readings at another landmark
 * are not compared. n: 1 and over; since: 0 and over. */
Loss loss_of(const Measure *measure, const MeasureReading *readings, int n, int since);

#endif
