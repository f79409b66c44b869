/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/measure.h"

#define Z_95 1.96

double mdc95_of(double sem_a, double sem_b)
{
    return Z_95 * sqrt(sem_a * sem_a + sem_b * sem_b);
}

double mdc95(double sem)
{
    return mdc95_of(sem, sem);
}

double sem_from_icc(double sd, double icc)
{
    return sd * sqrt(1 - icc);
}

static Change compare(const Measure *measure, const MeasureReading *a, const MeasureReading *b,
                      double mdc)
{
    const char *mark_a = a->landmark != NULL ? a->landmark : a->method->landmark;
    const char *mark_b = b->landmark != NULL ? b->landmark : b->method->landmark;
    Change out = {.change = b->value - a->value, .mdc = mdc};

    if (a->method == b->method && strcmp(mark_a, mark_b) != 0)
        out.verdict = CHANGE_UNLIKE;
    else if (fabs(out.change) < mdc)
        out.verdict = CHANGE_WITHIN;
    else
        out.verdict = out.change > 0 ? CHANGE_MORE : CHANGE_LESS;
    out.better = out.verdict == (measure->less_is_better ? CHANGE_LESS : CHANGE_MORE);
    return out;
}

Change measure_change(const Measure *measure, const MeasureReading *earlier,
                      const MeasureReading *later)
{
    return compare(measure, earlier, later, mdc95_of(earlier->method->sem, later->method->sem));
}

Change measure_sides(const Measure *measure, const MeasureReading *left,
                     const MeasureReading *right)
{
    return compare(measure, left, right,
                   mdc95_of(left->method->sem_sides, right->method->sem_sides));
}

const char *change_name(ChangeVerdict verdict)
{
    static const char *const NAMES[] = {[CHANGE_WITHIN] = "within measuring error",
                                        [CHANGE_MORE] = "more",
                                        [CHANGE_LESS] = "less",
                                        [CHANGE_UNLIKE] = "not comparable"};

    return NAMES[verdict];
}

bool measure_possible(const Measure *measure, double value, Refusal *refusal)
{
    if (value >= measure->possible.from && value <= measure->possible.to) return true;
    *refusal = (Refusal){.what = measure->key, .value = value};
    g_snprintf(refusal->why, sizeof refusal->why, "must lie within %g to %g %s",
               measure->possible.from, measure->possible.to, measure->unit);
    return false;
}

Forecast forecast_to_goal(const Measure *measure, double latest, double goal, double slope,
                          double low, double high)
{
    double way = measure->less_is_better ? latest - goal : goal - latest;
    double slow = measure->less_is_better ? -high : low;
    double fast = measure->less_is_better ? -low : high;

    if (way <= 0) return (Forecast){.kind = FORECAST_REACHED};
    if (!isfinite(slope) || !isfinite(low) || !isfinite(high) || slow <= 0)
        return (Forecast){.kind = FORECAST_NO_SLOPE};
    Forecast out = {.kind = FORECAST_RANGE, .weeks_from = way / fast, .weeks_to = way / slow};
    if (out.weeks_from > FORECAST_WEEKS_MAX) return (Forecast){.kind = FORECAST_LATER};
    if (out.weeks_to > FORECAST_WEEKS_MAX) out.weeks_to = INFINITY;
    return out;
}

char *forecast_text(const Forecast *forecast)
{
    double from = MAX(1, floor(forecast->weeks_from)), to = MAX(1, ceil(forecast->weeks_to));

    switch (forecast->kind) {
    case FORECAST_NO_SLOPE: return g_strdup("no slope");
    case FORECAST_REACHED: return g_strdup("reached");
    case FORECAST_LATER: return g_strdup("not within six weeks");
    case FORECAST_RANGE: break;
    }
    if (!isfinite(forecast->weeks_to)) return g_strdup_printf("%g weeks or more", from);
    if (from == to) return g_strdup_printf("about %g week%s", from, from == 1 ? "" : "s");
    return g_strdup_printf("about %g to %g weeks", from, to);
}
