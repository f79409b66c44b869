/* SPDX-License-Identifier: Apache-2.0 */
/* How a bench reports: each figure beside the bare library that it stands on. */
#ifndef OSIER_TESTS_BENCH_FIGURE_H
#define OSIER_TESTS_BENCH_FIGURE_H

#include <stddef.h>

/* One run: does count pieces of work. */
typedef void FigureRun(int count, void *context);

/* What a piece of work took, as medians over runs. */
typedef struct {
    double per_second; /* pieces a second by the clock */
    double cpu_us;     /* of this process, for each piece: steadier where the machine is shared */
} Figure;

/* Runs two ways of doing the same in turn, so that a busy machine hurts both. Runs is odd and at
 * most 15. */
void figure_compare(FigureRun *ours, FigureRun *bare, int count, int runs, void *context,
                    Figure *our_figure, Figure *bare_figure);

/* Prints one line; bare may be NULL. */
void figure_print(const char *name, const Figure *figure, const char *bare_name,
                  const Figure *bare);

#endif
