/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/adherence.h"

#include <string.h>

#include <glib.h>

bool wilson_at(int k, int n, double z, double *low, double *high)
{
    if (n < 1 || k < 0 || k > n) return false;
    double p = (double)k / n;
    double z2 = z * z;
    double centre = (p + z2 / (2.0 * n)) / (1 + z2 / n);
    double half = z * sqrt(p * (1 - p) / n + z2 / (4.0 * n * n)) / (1 + z2 / n);

    /* Exact at the ends, where rounding would leave a last digit. */
    *low = k == 0 ? 0 : centre - half;
    *high = k == n ? 1 : centre + half;
    return true;
}

bool wilson(int k, int n, double *low, double *high)
{
    return wilson_at(k, n, Z_95, low, high);
}

Adherence adherence_of(SessionCounts counts)
{
    g_assert(counts.done >= 0 && counts.partly >= 0 && counts.not >= 0 && counts.silent >= 0 &&
             counts.unasked >= 0 && counts.excused >= 0);
    Adherence a = {
        .done = counts.done,
        .partly = counts.partly,
        .not = counts.not,
        .silent = counts.silent,
        .unasked = counts.unasked,
        .excused = counts.excused,
        .due = counts.done + counts.partly + counts.not +counts.silent,
    };

    a.prescribed = a.due + a.unasked + a.excused;
    a.has_rate = wilson(a.done, a.due, &a.low, &a.high);
    if (a.has_rate) {
        a.rate = (double)a.done / a.due;
        a.bound_low = a.rate;
        a.bound_high = (double)(a.done + a.silent) / a.due;
    }
    return a;
}

static json_t *figure(const Adherence *a, double value)
{
    return a->has_rate ? json_real(value) : json_null();
}

json_t *adherence_json(const Adherence *a)
{
    return json_pack("{s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:o, s:o, s:o, s:[o, o]}",
                     "prescribed", a->prescribed, "done", a->done, "partly", a->partly, "not",
                     a->not, "silent", a->silent, "unasked", a->unasked, "excused", a->excused,
                     "due", a->due, "rate", figure(a, a->rate), "low", figure(a, a->low), "high",
                     figure(a, a->high), "bounds", figure(a, a->bound_low),
                     figure(a, a->bound_high));
}

void session_count(SessionCounts *counts, const char *state)
{
    if (strcmp(state, "done") == 0)
        counts->done++;
    else if (strcmp(state, "partly") == 0)
        counts->partly++;
    else if (strcmp(state, "not") == 0)
        counts->not ++;
    else if (strcmp(state, "silent") == 0)
        counts->silent++;
    else if (strcmp(state, "unasked") == 0)
        counts->unasked++;
    else if (strcmp(state, "excused") == 0)
        counts->excused++;
}
