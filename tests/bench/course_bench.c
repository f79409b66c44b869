/* SPDX-License-Identifier: Apache-2.0 */
/* Readiness from the store, and the weeks' own work (check-in, long break, review), for clients with 90 days of reports: 60
 * of them, or as many as the first argument says. Beside each the bare reading of the same rows. Making the history is
 * timed apart. */
#include <stdio.h>
#include <stdlib.h>

#include "adapters/store/find_day.h"
#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/ready.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"

enum { DAYS = 90, ROWS_MOST = 240, RUNS = 3 };

typedef struct {
    Office *office;
    GPtrArray *clients; /* of id */
    Day from;
    int count;
    guint rows; /* seen, so that nothing is left out */
} Bench;

static bool note_clients(Job *job, void *context)
{
    Bench *bench = context;
    g_autoptr(GPtrArray) names = find_names(job->tx);

    for (guint i = 0; i < names->len; i++)
        g_ptr_array_add(bench->clients, g_strdup(((char **)names->pdata[i])[0]));
    return true;
}

/* 90 days of one client: eight of nine done. */
static void report_all(Job *job, const Bench *bench, const char *client)
{
    for (int i = 0; i < DAYS; i++) {
        g_autofree char *date = day_format(bench->from + i);
        json_t *body = json_pack("{s:s, s:s, s:s}", "date", date, "done", i % 9 == 0 ? "no" : "yes",
                                 "by", "R. Okafor");
        if (i % 9 != 0) {
            json_object_set_new(body, "intensity", json_integer(3 + i % 3));
            json_object_set_new(body, "pain", json_integer(0));
        }
        office_call(job, handle_report, client, body, NULL);
    }
    for (int i = 0; i < 2; i++)
        office_call(job, handle_measure_add, client,
                    json_pack("{s:s, s:s, s:s, s:i, s:s}", "movement", "leg-raise", "side",
                              i == 0 ? "left" : "right", "method", "goniometer", "angle_deg", 72,
                              "by", "R. Okafor"),
                    NULL);
}

static bool history_job(Job *job, void *context)
{
    Bench *bench = context;

    report_all(job, bench, bench->clients->pdata[bench->count]);
    return true;
}

static const char *client_at(const Bench *bench, int i)
{
    return bench->clients->pdata[(guint)i % bench->clients->len];
}

static bool judge_job(Job *job, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < bench->count; i++) {
        g_autoptr(Person) person = person_load(job, client_at(bench, i));
        g_autoptr(Ready) ready = ready_judge(job, person);
        bench->rows += ready->sessions->len;
    }
    return true;
}

static bool meet_job(Job *job, void *context)
{
    const Bench *bench = context;

    for (int i = 0; i < bench->count; i++)
        course_meet(job, client_at(bench, i));
    return true;
}

static bool rows_job(Job *job, void *context)
{
    Bench *bench = context;

    for (int i = 0; i < bench->count; i++) {
        const char *client = client_at(bench, i);
        g_autoptr(GPtrArray) sessions = find_last_sessions(job->tx, client, ROWS_MOST);
        g_autoptr(GPtrArray) reports = find_reports(job->tx, client, 0, job->now_ms + 1);
        g_autoptr(GPtrArray) measures = find_measures(job->tx, client, NULL);
        bench->rows += sessions->len + reports->len + measures->len;
    }
    return true;
}

static void run(int count, void *context, JobRun *job)
{
    Bench *bench = context;

    bench->count = count;
    office_job(bench->office, job, bench);
}

static void judge(int count, void *context)
{
    run(count, context, judge_job);
}

static void meet(int count, void *context)
{
    run(count, context, meet_job);
}

static void rows(int count, void *context)
{
    run(count, context, rows_job);
}

int main(int argc, char **argv)
{
    int clients = argc > 1 ? MAX(atoi(argv[1]), 1) : 60;
    Bench bench = {.clients = g_ptr_array_new_with_free_func(g_free)};
    Figure ours, bare;

    g_assert(day_parse("2026-01-02", &bench.from));
    bench.office = office_new(0, "2026-01-02T07:00:00Z");
    office_fill(bench.office, clients);
    office_reopen(bench.office, "2026-04-02T12:00:00Z");
    office_job(bench.office, note_clients, &bench);
    gint64 begun_us = g_get_monotonic_time();
    for (bench.count = 0; bench.count < clients; bench.count++)
        office_job(bench.office, history_job, &bench);
    printf("%-36s %8.2f s for %d clients, apart from what follows\n", "90 days of reports written",
           (double)(g_get_monotonic_time() - begun_us) / 1e6, clients);
    figure_compare(judge, rows, clients, RUNS, &bench, &ours, &bare);
    figure_print("readiness from the store, clients", &ours, "rows only", &bare);
    figure_compare(meet, rows, clients, RUNS, &bench, &ours, &bare);
    figure_print("weeks' own work, clients", &ours, "rows only", &bare);
    office_free(bench.office);
    g_ptr_array_unref(bench.clients);
    return bench.rows > 0 ? 0 : 1;
}
