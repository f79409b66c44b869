/* SPDX-License-Identifier: Apache-2.0 */
/* Hybrid logical clock (Kulkarni et al., Logical Physical Clocks, OPODIS 2014, figure 5), bounded: a stamp from elsewhere
 * never pulls the clock more than STAMP_AHEAD_MS beyond the wall. */
#ifndef OSIER_CORE_LEDGER_STAMP_H
#define OSIER_CORE_LEDGER_STAMP_H

#include <stdbool.h>
#include <stdint.h>

#define STAMP_AHEAD_MS INT64_C(600000)

typedef struct {
    int64_t wall;
    int64_t logical;
} Stamp;

/* The stamp of a local event at wall time now_ms; moves the clock. */
Stamp stamp_next(Stamp *clock, int64_t now_ms);

/* Takes in a stamp from elsewhere. False where it was too far ahead: then it counts as now + STAMP_AHEAD_MS. */
bool stamp_receive(Stamp *clock, int64_t now_ms, Stamp incoming);

/* Takes in again, where a clock is started at wall time now_ms, a stamp that was taken in before it stood: the clock is not behind it.
 * One too far ahead counts as now + STAMP_AHEAD_MS. */
void stamp_recall(Stamp *clock, int64_t now_ms, Stamp known);

int stamp_compare(Stamp a, Stamp b);

#endif
