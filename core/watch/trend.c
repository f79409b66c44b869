/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/trend.h"

#include <glib.h>

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a;
    double right = *(const double *)b;

    return (left > right) - (left < right);
}

/* The middle of a sorted list, or the mean of its two middles. */
static double median(const GArray *sorted)
{
    guint half = sorted->len / 2;
    double upper = g_array_index(sorted, double, half);

    return sorted->len % 2 == 1 ? upper : (g_array_index(sorted, double, half - 1) + upper) / 2;
}

static GArray *pair_slopes(const TrendPoint *points, int n)
{
    GArray *slopes = g_array_new(FALSE, FALSE, sizeof(double));

    for (int i = 0; i < n; i++)
        for (int j = i + 1; j < n; j++) {
            if (points[i].x == points[j].x) continue;
            double slope = (points[j].y - points[i].y) / (points[j].x - points[i].x);
            g_array_append_val(slopes, slope);
        }
    g_array_sort(slopes, by_size);
    return slopes;
}

static double median_rest(const TrendPoint *points, int n, double slope)
{
    g_autoptr(GArray) rests = g_array_new(FALSE, FALSE, sizeof(double));

    for (int i = 0; i < n; i++) {
        double rest = points[i].y - slope * points[i].x;
        g_array_append_val(rests, rest);
    }
    g_array_sort(rests, by_size);
    return median(rests);
}

static double pair_weight(double n)
{
    return n * (n - 1) * (2 * n + 5);
}

/* Variance of Kendall's S where no slope is there, less what equal x take away (Sen 1968, section
 * 3). */
static double kendall_variance(const TrendPoint *points, int n)
{
    double weight = pair_weight(n);

    for (int i = 0; i < n; i++) {
        int before = 0;
        int same = 0;

        for (int j = 0; j < n; j++) {
            before += j < i && points[j].x == points[i].x;
            same += points[j].x == points[i].x;
        }
        if (before == 0) weight -= pair_weight(same); /* each group once, at its first point */
    }
    return weight / 18;
}

TrendLine trend_line(const TrendPoint *points, int n, double z)
{
    TrendLine line = {0};

    if (n > TREND_POINTS_MAX) {
        points += n - TREND_POINTS_MAX;
        n = TREND_POINTS_MAX;
    }
    g_autoptr(GArray) slopes = pair_slopes(points, n);
    if (slopes->len == 0) return line;
    line.has_slope = true;
    line.slope = median(slopes);
    line.intercept = median_rest(points, n, line.slope);

    double reach = z * sqrt(kendall_variance(points, n));
    double lower = floor((slopes->len - reach) / 2); /* ranks count from 1 */
    double upper = ceil((slopes->len + reach) / 2) + 1;

    line.has_interval = lower >= 1 && upper <= slopes->len;
    if (line.has_interval) {
        line.low = g_array_index(slopes, double, (guint)lower - 1);
        line.high = g_array_index(slopes, double, (guint)upper - 1);
    }
    return line;
}

double ewma_next(const Ewma *ewma, double before, double value)
{
    return ewma->lambda * value + (1 - ewma->lambda) * before;
}

double ewma_reach(const Ewma *ewma, int count)
{
    double settled = ewma->width * ewma->sigma * sqrt(ewma->lambda / (2 - ewma->lambda));

    return count < 1 ? settled : settled * sqrt(1 - pow(1 - ewma->lambda, 2.0 * count));
}

TrendDirection ewma_direction(const Ewma *ewma, const double *values, int n, double *average)
{
    double now = ewma->target;
    double reach = ewma_reach(ewma, 0);

    for (int i = 0; i < n; i++)
        now = ewma_next(ewma, now, values[i]);
    if (average != NULL) *average = now;
    if (now > ewma->target + reach) return TREND_RISING;
    return now < ewma->target - reach ? TREND_FALLING : TREND_STEADY;
}

const char *trend_direction_name(TrendDirection direction)
{
    static const char *const NAMES[] = {
        [TREND_STEADY] = "steady", [TREND_RISING] = "rising", [TREND_FALLING] = "falling"};

    g_assert((size_t)direction < G_N_ELEMENTS(NAMES));
    return NAMES[direction];
}
