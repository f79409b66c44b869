/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/figure.h"

#include <glib.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

static double cpu_us_so_far(void)
{
    struct rusage used;
    getrusage(RUSAGE_SELF, &used);
    return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e6 +
           (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

void figure_add(Figure *figure, double per_second, double cpu_us)
{
    g_assert(figure->runs < FIGURE_RUNS_MAX);
    figure->per_second[figure->runs] = per_second;
    figure->cpu_us[figure->runs++] = cpu_us;
}

static void measure(FigureRun *run, int count, void *context, Figure *figure)
{
    int64_t began_us = g_get_monotonic_time();
    double cpu_us = cpu_us_so_far();
    run(count, context);
    cpu_us = (cpu_us_so_far() - cpu_us) / count;
    figure_add(figure, count * (double)G_USEC_PER_SEC / (double)(g_get_monotonic_time() - began_us),
               cpu_us);
}

void figure_compare(FigureRun *ours, FigureRun *bare, int count, int runs, void *context,
                    Figure *our_figure, Figure *bare_figure)
{
    our_figure->runs = bare_figure->runs = 0;
    for (int i = 0; i < runs; i++) {
        measure(bare, count, context, bare_figure);
        measure(ours, count, context, our_figure);
    }
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

typedef struct {
    double least, middle, greatest;
} Spread;

static Spread spread_of(const double *values, int count)
{
    double sorted[FIGURE_RUNS_MAX];
    g_assert(count % 2 == 1 && count <= FIGURE_RUNS_MAX);
    memcpy(sorted, values, (size_t)count * sizeof *values);
    qsort(sorted, (size_t)count, sizeof *sorted, by_size);
    return (Spread){sorted[0], sorted[count / 2], sorted[count - 1]};
}

double figure_median(const double *values, int count)
{
    return spread_of(values, count).middle;
}

static void print_rate(const Figure *figure)
{
    Spread rate = spread_of(figure->per_second, figure->runs);
    double cpu_us = figure_median(figure->cpu_us, figure->runs);
    g_autofree char *span = g_strdup_printf("%.0f-%.0f", rate.least, rate.greatest);
    printf(" %10.0f/s %-19s", rate.middle, span);
    if (cpu_us > 0)
        printf(" %7.1f us", cpu_us);
    else
        printf(" %10s", "");
}

static void print_ratio(const Figure *figure, const Figure *bare)
{
    double ratios[FIGURE_RUNS_MAX];
    for (int i = 0; i < figure->runs; i++)
        ratios[i] = figure->per_second[i] / bare->per_second[i];
    Spread ratio = spread_of(ratios, figure->runs);
    printf("  %.2f (%.2f-%.2f)", ratio.middle, ratio.least, ratio.greatest);
}

void figure_print(const char *name, const Figure *figure, const char *bare_name, const Figure *bare)
{
    printf("%-38s", name);
    print_rate(figure);
    if (bare != NULL) {
        printf(" | %-34s", bare_name);
        print_rate(bare);
        print_ratio(figure, bare);
    }
    printf("\n");
    fflush(stdout);
}
