/* SPDX-License-Identifier: Apache-2.0 */
/* make sim SECONDS=60 SEED=1 DAYS=10: as many seeds as the time allows. */
#include <glib.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/sim/story.h"

int main(int argc, char **argv)
{
    double seconds = argc > 1 ? atof(argv[1]) : 60;
    uint64_t seed = argc > 2 ? g_ascii_strtoull(argv[2], NULL, 10) : 1;
    int days = argc > 3 ? atoi(argv[3]) : 10;
    StoryFigures figures = {0};
    int64_t began_us = g_get_monotonic_time();
    uint64_t first = seed;

    while (g_get_monotonic_time() - began_us < seconds * 1e6) {
        if (!story_live(seed, days, &figures)) return 1;
        seed++;
    }
    double took = (double)(g_get_monotonic_time() - began_us) / 1e6;
    printf("seeds %" G_GUINT64_FORMAT " to %" G_GUINT64_FORMAT
           ": no rule broken; %d clinic days (%.0f a second), %d texts, "
           "%d crashes\n",
           first, seed - 1, figures.days, figures.days / took, figures.texts, figures.crashes);
    return 0;
}
