/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/shrink.h"

#include <glib.h>
#include <string.h>

typedef struct {
    ShrinkRun *run;
    uint64_t seed;
    const char *rule;
    int runs_left;
    RunShape best;
} Search;

/* Does the rule still break? Then that is the shape to go on from. */
static bool take(Search *search, RunShape shape)
{
    RunTally tally = {0};

    if (search->runs_left-- <= 0) return false;
    shape.quiet = true;
    if (search->run(search->seed, &shape, &tally)) return false;
    if (strcmp(tally.rule, search->rule) != 0) return false;
    search->best = shape;
    return true;
}

/* Leaves out the faults one by one that the rule does not need. */
static bool spare_faults(Search *search)
{
    bool spared = false;

    for (unsigned fault = 1; fault < FAULT_ALL; fault <<= 1) {
        RunShape shape = search->best;
        if ((shape.without & fault) != 0 || shape.storm == 0) continue;
        shape.without |= fault;
        spared = take(search, shape) || spared;
    }
    return spared;
}

/* A number made smaller: by half, by a quarter, by one. */
static bool lessen(Search *search, size_t offset, int least)
{
    for (int part = 2; part >= 0; part--) {
        RunShape shape = search->best;
        int *number = (int *)(void *)((char *)&shape + offset);
        int by = part == 2 ? *number / 2 : part == 1 ? *number / 4 : 1;
        if (by == 0 || *number - by < least) continue;
        *number -= by;
        if (take(search, shape)) return true;
    }
    return false;
}

RunShape shrink(ShrinkRun *run, uint64_t seed, const RunShape *shape, const RunTally *broke,
                int runs_most)
{
    Search search = {
        .run = run, .seed = seed, .rule = broke->rule, .runs_left = runs_most, .best = *shape};
    bool smaller = true;

    search.best.days = broke->days;
    if (search.best.people == 0) search.best.people = 13;
    while (smaller && search.runs_left > 0) {
        smaller = lessen(&search, G_STRUCT_OFFSET(RunShape, days), 1);
        smaller = lessen(&search, G_STRUCT_OFFSET(RunShape, people), 1) || smaller;
        smaller = lessen(&search, G_STRUCT_OFFSET(RunShape, storm), 0) || smaller;
        smaller = spare_faults(&search) || smaller;
    }
    search.best.quiet = shape->quiet;
    return search.best;
}

char *shrink_words(uint64_t seed, const RunShape *shape)
{
    g_autofree char *without = run_fault_names(shape->without);

    return g_strdup_printf(
        "--only --loud --seed %" G_GUINT64_FORMAT " --days %d --people %d --storm %d%s%s", seed,
        shape->days, shape->people, shape->storm, without[0] != '\0' ? " --without " : "", without);
}
