/* SPDX-License-Identifier: Apache-2.0 */
/* Readiness, and where the range is going, of 100,000 clients (or as many as the first argument says) from 90 days of
 * history in memory, on one core; limit 5 s. Beside readiness the same sessions read once and nothing judged; beside the
 * outlook, one pass over the same readings. Making the histories is timed apart, and the memory is looked at before and
 * after judging: it must not grow. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/files/programmes.h"
#include "core/practice/readiness.h"
#include "core/watch/adherence.h"
#include "core/watch/trend.h"
#include "tests/bench/figure.h"

enum { DAYS = 90, READINGS = 14, RUNS = 3, CLIENTS_LEAST = 1000, FIRST_DAY = 20000 };
#define LIMIT_S 5.0

/* What one client has behind them. */
typedef struct {
    ReadySession sessions[DAYS];
    ReadyReading readings[READINGS];
    int stage;
    Day since;
    int open_alerts;
} History;

typedef struct {
    const Programme *programme;
    History *histories;
    int n;           /* of histories */
    int verdicts[3]; /* seen */
    double sum;      /* so that nothing is left out */
} Bench;

static ReadySession session_of(GRand *random, Day day)
{
    int roll = g_rand_int_range(random, 0, 100);
    ReadySession session = {.day = day, .intensity = READY_UNTOLD, .pain = READY_UNTOLD};

    session.state = roll < 75   ? READY_DONE
                    : roll < 80 ? READY_PARTLY
                    : roll < 85 ? READY_NOT
                                : READY_SILENT;
    if (roll >= 80) return session;
    session.intensity = g_rand_int_range(random, 2, 8);
    session.pain = g_rand_int_range(random, 0, 10) < 9 ? 0 : g_rand_int_range(random, 1, 5);
    return session;
}

static void make_history(const Programme *programme, GRand *random, History *history)
{
    static const char *const METHODS[] = {"goniometer", "door"};

    for (int i = 0; i < DAYS; i++)
        history->sessions[i] = session_of(random, FIRST_DAY + i);
    for (int i = 0; i < READINGS; i++)
        history->readings[i] =
            (ReadyReading){.day = FIRST_DAY + 13 * (i / 2),
                           .measure = "leg-raise",
                           .method = METHODS[g_rand_int_range(random, 0, 8) == 0],
                           .right = i % 2 == 1,
                           .value = 60 + i + g_rand_int_range(random, -3, 4)};
    history->stage = g_rand_int_range(random, 0, programme_stages(programme));
    history->since = FIRST_DAY + g_rand_int_range(random, 0, DAYS - 10);
    history->open_alerts = g_rand_int_range(random, 0, 10) == 0;
}

static ReadyAsk ask_of(const Bench *bench, const History *history)
{
    return (ReadyAsk){.programme = bench->programme,
                      .stage = programme_stage_at(bench->programme, history->stage),
                      .today = FIRST_DAY + DAYS,
                      .stage_since = history->since,
                      .sessions = history->sessions,
                      .n_sessions = DAYS,
                      .readings = history->readings,
                      .n_readings = READINGS,
                      .left = true,
                      .right = true,
                      .goal_left = -1,
                      .goal_right = -1,
                      .open_alerts = history->open_alerts};
}

/* Histories are walked with a stride that no cache foresees. */
static const History *history_at(const Bench *bench, int i)
{
    return &bench->histories[(size_t)i * 7919 % (size_t)bench->n];
}

static void judge(int count, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < count; i++) {
        ReadyAsk ask = ask_of(bench, history_at(bench, i));
        ReadyAnswer answer;
        readiness_of(&ask, &answer);
        bench->verdicts[answer.verdict]++;
    }
}

static void only_read(int count, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < count; i++) {
        const History *history = history_at(bench, i);
        for (int k = 0; k < DAYS; k++)
            bench->sum += history->sessions[k].state + history->sessions[k].intensity +
                          history->sessions[k].pain;
        for (int k = 0; k < READINGS; k++)
            bench->sum += history->readings[k].value;
    }
}

/* One side's readings by the clinician, the robust slope, the weeks to the goal. */
static void outlook(int count, void *context)
{
    Bench *bench = context;
    const Measure *measure = programme_measure(bench->programme, "leg-raise");

    for (int i = 0; i < count; i++) {
        const History *history = history_at(bench, i);
        TrendPoint points[READINGS];
        int n = 0;
        for (int k = 0; k < READINGS; k++)
            if (!history->readings[k].right &&
                strcmp(history->readings[k].method, "goniometer") == 0)
                points[n++] =
                    (TrendPoint){history->readings[k].day / 7.0, history->readings[k].value};
        TrendLine line = trend_line(points, n, Z_95);
        Forecast forecast = forecast_to_goal(
            measure, n > 0 ? points[n - 1].y : 0, 90, line.has_slope ? line.slope : NAN,
            line.has_interval ? line.low : NAN, line.has_interval ? line.high : NAN);
        bench->sum += forecast.kind;
    }
}

static void only_readings(int count, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < count; i++)
        for (int k = 0; k < READINGS; k++)
            bench->sum += history_at(bench, i)->readings[k].value;
}

static double resident_mb(void)
{
    g_autofree char *status = NULL;
    const char *line;

    g_assert(g_file_get_contents("/proc/self/status", &status, NULL, NULL));
    line = strstr(status, "VmRSS:");
    return line != NULL ? atof(line + strlen("VmRSS:")) / 1024 : -1;
}

int main(int argc, char **argv)
{
    int clients = argc > 1 ? MAX(atoi(argv[1]), CLIENTS_LEAST) : 100000;
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) files = programmes_load(NULL, messages);
    const Programme *programme = programmes_find(files, "calf-and-hamstring")->programme;
    g_autofree History *histories = g_new0(History, (gsize)clients);
    Bench bench = {.programme = programme, .histories = histories, .n = clients};
    GRand *random = g_rand_new_with_seed(7);
    gint64 begun_us = g_get_monotonic_time();
    Figure ours, bare;

    for (int i = 0; i < clients; i++)
        make_history(programme, random, &histories[i]);
    printf("%-36s %8.2f s, apart from what follows\n", "90 days of each made and loaded",
           (double)(g_get_monotonic_time() - begun_us) / 1e6);
    double before = resident_mb();
    figure_compare(judge, only_read, clients, RUNS, &bench, &ours, &bare);
    figure_print("readiness, clients", &ours, "read only", &bare);
    double all_s = clients * figure_median(ours.cpu_us, ours.runs) / 1e6;
    printf("%-36s %8.2f s (limit %g s); %d move on, %d stay, %d step back\n", "all of them", all_s,
           LIMIT_S, bench.verdicts[READY_MOVE_ON] / RUNS, bench.verdicts[READY_STAY] / RUNS,
           bench.verdicts[READY_STEP_BACK] / RUNS);
    figure_compare(outlook, only_readings, clients, RUNS, &bench, &ours, &bare);
    figure_print("range outlook, sides", &ours, "read only", &bare);
    printf("%-36s %8.1f MB, %.1f MB after it\n", "memory before judging", before, resident_mb());
    g_rand_free(random);
    return all_s <= LIMIT_S && bench.sum != 0 ? 0 : 1;
}
