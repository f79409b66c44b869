/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/figure.h"

#include <glib.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>

enum { RUNS_MAX = 15 };

typedef struct {
    double per_second[RUNS_MAX];
    double cpu_us[RUNS_MAX];
} Series;

static double cpu_us_so_far(void)
{
    struct rusage used;
    getrusage(RUSAGE_SELF, &used);
    return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e6 +
           (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

static void measure(FigureRun *run, int count, void *context, Series *series, int number)
{
    int64_t began_us = g_get_monotonic_time();
    double cpu_us = cpu_us_so_far();
    run(count, context);
    series->cpu_us[number] = (cpu_us_so_far() - cpu_us) / count;
    series->per_second[number] =
        count * (double)G_USEC_PER_SEC / (double)(g_get_monotonic_time() - began_us);
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static Figure medians(Series *series, int runs)
{
    qsort(series->per_second, (size_t)runs, sizeof(double), by_size);
    qsort(series->cpu_us, (size_t)runs, sizeof(double), by_size);
    return (Figure){series->per_second[runs / 2], series->cpu_us[runs / 2]};
}

void figure_compare(FigureRun *ours, FigureRun *bare, int count, int runs, void *context,
                    Figure *our_figure, Figure *bare_figure)
{
    Series our_series, bare_series;
    g_assert(runs % 2 == 1 && runs <= RUNS_MAX);
    for (int i = 0; i < runs; i++) {
        measure(bare, count, context, &bare_series, i);
        measure(ours, count, context, &our_series, i);
    }
    *our_figure = medians(&our_series, runs);
    *bare_figure = medians(&bare_series, runs);
}

void figure_print(const char *name, const Figure *figure, const char *bare_name, const Figure *bare)
{
    printf("%-32s %8.0f/s  %6.1f us of CPU each", name, figure->per_second, figure->cpu_us);
    if (bare != NULL)
        printf("   %s: %.0f/s, %.1f us; ratio %.2f by the clock, %.2f by CPU", bare_name,
               bare->per_second, bare->cpu_us, figure->per_second / bare->per_second,
               bare->cpu_us / figure->cpu_us);
    printf("\n");
    fflush(stdout);
}
