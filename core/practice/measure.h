/* SPDX-License-Identifier: Apache-2.0 */
/* Readings beside each other: what is a real change, what is within measuring error, left beside
 * right, and how long it may take to the goal. Knee to wall stays in centimetres; the
 * knee-extension deficit is 180 degrees less the popliteal angle, so that less is better. */
#ifndef OSIER_CORE_PRACTICE_MEASURE_H
#define OSIER_CORE_PRACTICE_MEASURE_H

#include "core/practice/geometry.h"

/* A forecast looks no further than this: nobody's range goes straight for longer (common practice).
 */
#define FORECAST_WEEKS_MAX 6.0

/* The smallest difference of two readings that is beyond their errors at 95 %: 1.96 * sqrt(sem1^2 +
 * sem2^2), which for one method is 1.96 * sqrt(2) * SEM (Weir JP, J Strength Cond Res
 * 2005;19:231-240). */
double mdc95(double sem);
double mdc95_of(double sem_a, double sem_b);

/* SEM = SD * sqrt(1 - ICC), the same paper. icc: 0 to 1. */
double sem_from_icc(double sd, double icc);

typedef enum {
    CHANGE_WITHIN, /* within measuring error */
    CHANGE_MORE,
    CHANGE_LESS,
    CHANGE_UNLIKE /* taken at different landmarks: not to be compared */
} ChangeVerdict;

typedef struct {
    double value;
    const Method *method;
    const char *landmark; /* as noted, or NULL: the method's own */
} MeasureReading;

typedef struct {
    ChangeVerdict verdict;
    double change; /* later less earlier, or right less left */
    double mdc;
    bool better; /* a real change in the wanted direction; of sides: right is the better one */
} Change;

/* The later reading beside the earlier one. A change of exactly the minimal detectable change is
 * real. */
Change measure_change(const Measure *measure, const MeasureReading *earlier,
                      const MeasureReading *later);

/* Right beside left, taken the same day. */
Change measure_sides(const Measure *measure, const MeasureReading *left,
                     const MeasureReading *right);

/* "more", "less", "within measuring error", "not comparable". */
const char *change_name(ChangeVerdict verdict);

/* Is the value possible for the measure? */
bool measure_possible(const Measure *measure, double value, Refusal *refusal);

typedef enum {
    FORECAST_NO_SLOPE, /* too few readings, or a slope that may as well be none or point away */
    FORECAST_REACHED,
    FORECAST_RANGE, /* weeks_from to weeks_to */
    FORECAST_LATER  /* not within six weeks */
} ForecastKind;

typedef struct {
    ForecastKind kind;
    double weeks_from;
    double weeks_to; /* INFINITY: perhaps later than six weeks */
} Forecast;

/* Weeks from the latest value to the goal, from a robust slope a week with its interval (NAN where
 * there is none). */
Forecast forecast_to_goal(const Measure *measure, double latest, double goal, double slope,
                          double low, double high);

/* "about 2 to 4 weeks", "3 weeks or more", "not within six weeks", "no slope", "reached". Caller's
 * to g_free. */
char *forecast_text(const Forecast *forecast);

#endif
