/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/loss.h"

/* How far the later of two readings is the worse one. */
static double lost(const Measure *measure, const Change *change)
{
    return measure->less_is_better ? change->change : -change->change;
}

Loss loss_of(const Measure *measure, const MeasureReading *readings, int n, int since)
{
    Loss worst = {.beside = -1};

    for (int i = since; measure->loss_sign > 0 && i < n - 1; i++) {
        Change change = measure_change(measure, &readings[i], &readings[n - 1]);
        double loss = lost(measure, &change);
        if (change.verdict == CHANGE_UNLIKE || loss <= worst.loss) continue;
        worst = (Loss){.loss = loss, .limit = change.mdc, .beside = i};
        /* Written to a tenth of a unit, read as such. */
        if (loss >= MAX(change.mdc, measure->loss_sign) - 1e-9) {
            worst.kind = LOSS_SIGN;
            worst.limit = MAX(change.mdc, measure->loss_sign);
        } else if (change.verdict != CHANGE_WITHIN) {
            worst.kind = LOSS_REAL;
        }
    }
    return worst;
}
