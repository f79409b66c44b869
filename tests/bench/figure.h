/* SPDX-License-Identifier: Apache-2.0 */
/* How a bench reports: a row of one table for each figure, beside the bare limit that was measured in the same run. */
#ifndef OSIER_TESTS_BENCH_FIGURE_H
#define OSIER_TESTS_BENCH_FIGURE_H

#include <stddef.h>

enum { FIGURE_RUNS_MAX = 15 };

/* One run: does count pieces of work. */
typedef void FigureRun(int count, void *context);

/* What a piece of work took, run by run. */
typedef struct {
    int runs;
    double per_second[FIGURE_RUNS_MAX]; /* pieces a second by the clock */
    double cpu_us
        [FIGURE_RUNS_MAX]; /* for each piece; steadier where the machine is shared. 0: not measured */
} Figure;

/* Runs two ways of doing the same in turn, so that a busy machine hurts both; the CPU is this process's. runs is odd and
 * at most FIGURE_RUNS_MAX. */
void figure_compare(FigureRun *ours, FigureRun *bare, int count, int runs, void *context,
                    Figure *our_figure, Figure *bare_figure);

void figure_add(Figure *figure, double per_second, double cpu_us);

/* The middle of an odd number of values. */
double figure_median(const double *values, int count);

/* Prints a row of the table that table.sh heads: the median, its least and greatest, the CPU of each piece; the same of the bare limit; the median of the
 * runs' ratios with the least and greatest. bare may be NULL. */
void figure_print(const char *name, const Figure *figure, const char *bare_name,
                  const Figure *bare);

#endif
