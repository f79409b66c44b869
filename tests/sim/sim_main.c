/* SPDX-License-Identifier: Apache-2.0 */
/* build/sim: runs simulated clinics, a seed each, until its time is up or a rule is broken. */
#include <stdio.h>

#include "tests/sim/apart.h"
#include "tests/sim/shrink.h"

#include <glib.h>

#define SHRINK_RUNS 60

/* Histories of replicas that are apart. */
static int play_apart(int64_t first, int64_t histories, bool loud)
{
    Apart *apart = apart_new();
    ApartTally tally = {0};
    int64_t began = g_get_monotonic_time();
    bool held = true;

    for (int64_t i = 0; i < histories && held; i++)
        held = apart_run(apart, (uint64_t)(first + i), loud, &tally);
    apart_free(apart);
    if (!held) return 1;
    printf("%d histories of replicas apart from seed %" G_GINT64_FORMAT
           " in %.1f s: %d calls, %d parcels, %d messages, %d events, %d joined, %d erased, %d "
           "duties taken; all agreed, and every rule held\n",
           tally.histories, first, (double)(g_get_monotonic_time() - began) / G_USEC_PER_SEC,
           tally.calls, tally.visits, tally.messages, tally.events, tally.joined, tally.erased,
           tally.duties);
    return 0;
}

/* "weather,cuts": false where a word is none. */
static bool read_faults(const char *words, unsigned *faults)
{
    g_auto(GStrv) names = g_strsplit(words, ",", -1);

    for (char **name = names; *name != NULL; name++) {
        if (run_fault_named(*name) == 0) {
            fprintf(stderr,
                    "sim: no fault is called %s; there are weather, away, refusals, cuts, full, "
                    "clock, lost\n",
                    *name);
            return false;
        }
        *faults |= run_fault_named(*name);
    }
    return true;
}

/* A seed broke a rule: how it plays again, and with how little. */
static void tell_broken(uint64_t seed, const RunShape *shape, const RunTally *broke)
{
    RunShape small = shrink(run_seed, seed, shape, broke, SHRINK_RUNS);
    g_autofree char *words = shrink_words(seed, &small);

    fprintf(stderr, "shrunk; the same rule breaks with: build/sim %s\n", words);
}

int main(int argc, char **argv)
{
    int64_t seconds = 60, first = 1, apart = 0;
    RunShape shape = RUN_AS_DRAWN;
    int most = 0;
    gboolean only = FALSE, loud = FALSE;
    g_autofree char *without = NULL;
    const GOptionEntry entries[] = {
        {"seconds", 0, 0, G_OPTION_ARG_INT64, &seconds, "how long to go on (60)", "N"},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &first, "the first seed (1)", "N"},
        {"days", 0, 0, G_OPTION_ARG_INT, &shape.days, "simulated days of each (the seed's draw)",
         "N"},
        {"people", 0, 0, G_OPTION_ARG_INT, &shape.people, "clients at most (the seed's draw)", "N"},
        {"storm", 0, 0, G_OPTION_ARG_INT, &shape.storm, "0 calm to 3 rough, at most (3)", "N"},
        {"without", 0, 0, G_OPTION_ARG_STRING, &without, "faults to leave out, with commas",
         "NAMES"},
        {"seeds", 0, 0, G_OPTION_ARG_INT, &most, "no more than so many (no bound)", "N"},
        {"only", 0, 0, G_OPTION_ARG_NONE, &only, "one seed", NULL},
        {"apart", 0, 0, G_OPTION_ARG_INT64, &apart, "so many histories of replicas apart", "N"},
        {"loud", 0, 0, G_OPTION_ARG_NONE, &loud, "print all that happens", NULL},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context = g_option_context_new("- simulates clinics from seeds");
    g_autoptr(GError) error = NULL;
    RunTally total = {0};
    int seeds = 0;

    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        fprintf(stderr, "sim: %s\n", error->message);
        return 64;
    }
    if (without != NULL && !read_faults(without, &shape.without)) return 64;
    shape.loud = loud;
    if (apart > 0) return play_apart(first, apart, loud);
    int64_t began = g_get_monotonic_time();
    do {
        RunTally tally;
        uint64_t seed = (uint64_t)(first + seeds);
        if (!run_seed(seed, &shape, &tally)) {
            if (!only) tell_broken(seed, &shape, &tally);
            return 1;
        }
        seeds++;
        total.days += tally.days;
        total.steps += tally.steps;
        total.lives += tally.lives;
        total.messages += tally.messages;
        total.replies += tally.replies;
        total.alerts += tally.alerts;
        total.events += tally.events;
    } while (!only && seeds != most && g_get_monotonic_time() - began < seconds * G_USEC_PER_SEC);
    double took = (double)(g_get_monotonic_time() - began) / G_USEC_PER_SEC;
    printf("%d seeds from %" G_GINT64_FORMAT
           ": %d clinic-days in %.1f s (%.1f a second), %d steps, "
           "%d lives, %d events, %d messages, %d replies, %d alerts; every rule held\n",
           seeds, first, total.days, took, total.days / took, total.steps, total.lives,
           total.events, total.messages, total.replies, total.alerts);
    return 0;
}
