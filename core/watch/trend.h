/* SPDX-License-Identifier: Apache-2.0 */
/* Where figures are going: a line through measures that a few odd readings do not bend, and the
 * direction of pain or intensity from session to session. */
#ifndef OSIER_CORE_WATCH_TREND_H
#define OSIER_CORE_WATCH_TREND_H

#include <stdbool.h>

/* Two-sided 93 % of the standard normal distribution, the level of Sen's own example; Z_95 is in
 * adherence.h. */
#define Z_93 1.811910673

/* The work grows with the square of the points; of more than these the last are taken. */
#define TREND_POINTS_MAX 1000

typedef struct {
    double x; /* days, say */
    double y;
} TrendPoint;

/* Theil-Sen: Sen PK, J Am Stat Assoc 1968;63:1379-1389. */
typedef struct {
    bool has_slope;    /* false for fewer than two points, and where all x are the same */
    double slope;      /* the median of the slopes between all pairs of different x */
    double intercept;  /* the median of y - slope * x */
    bool has_interval; /* false where the points are too few for the level */
    double low;
    double high;
} TrendLine;

/* The line through n points, which need no order (but see TREND_POINTS_MAX) and must be finite,
 * with the rank interval of the slope: normal approximation with Sen's correction for equal x,
 * ranks rounded outwards. z is the normal quantile of the level, Z_95 for 95 %. */
TrendLine trend_line(const TrendPoint *points, int n, double z);

typedef enum { TREND_STEADY, TREND_RISING, TREND_FALLING } TrendDirection;

/* An exponentially weighted moving average and its limits: NIST/SEMATECH e-Handbook,
 * section 6.3.2.4. */
typedef struct {
    double lambda; /* weight of the newest value, over 0 up to 1 */
    double target; /* where the average starts: the usual value */
    double sigma;  /* spread of single values around it */
    double width;  /* limits in sigmas of the average; 3 in the handbook */
} Ewma;

double ewma_next(const Ewma *ewma, double before, double value);

/* Distance of the limits from the target after count values; for count 0 the distance that it
 * settles at. */
double ewma_reach(const Ewma *ewma, int count);

/* Where the average stands after n values: beyond the settled limits it rises or falls. average
 * (may be NULL) gets its last value. */
TrendDirection ewma_direction(const Ewma *ewma, const double *values, int n, double *average);

/* "steady", "rising", "falling". */
const char *trend_direction_name(TrendDirection direction);

#endif
