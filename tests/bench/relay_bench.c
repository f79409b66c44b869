/* SPDX-License-Identifier: Apache-2.0 */
/* Reminders a second from due to accepted, everything written down durably, beside bare libcurl to the same sink, and
 * beside the commits that the device gives. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/bench/bare.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"
#include "tests/bench/sink.h"

enum { CLIENTS = 3000, RUNS = 3 };

/* Each run is another day of the same clinic: its sessions come due at 08:30. */
typedef struct {
    Office *office;
    int port;
    int day;
    char *url;
    int failed;
} Bench;

static double run_day(Bench *bench)
{
    g_autofree char *early = g_strdup_printf("2026-01-%02dT05:00:00Z", ++bench->day);
    g_autofree char *start = g_strdup_printf("2026-01-%02dT08:29:59Z", bench->day);

    /* Closing the silent sessions of the day before is not part of the figure. */
    office_reopen(bench->office, early);
    daemon_start(bench->office->daemon);
    office_wait_quiet(bench->office);
    office_reopen(bench->office, start);
    daemon_start(bench->office->daemon);
    int64_t began_us = g_get_monotonic_time() + 1000000;
    office_wait_accepted(bench->office, "reminder", CLIENTS * (bench->day - 1));
    return CLIENTS * 1e6 / (double)(g_get_monotonic_time() - began_us);
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return (left > right) - (left < right);
}

static double median(double *values)
{
    qsort(values, RUNS, sizeof(double), by_size);
    return values[RUNS / 2];
}

static double run_bare(Bench *bench)
{
    BareRun bare = {.url = bench->url};
    int64_t began_us = g_get_monotonic_time();

    bare_run(CLIENTS, &bare);
    bench->failed += bare.failed;
    return CLIENTS * 1e6 / (double)(g_get_monotonic_time() - began_us);
}

int main(void)
{
    double ours[RUNS];
    double bare[RUNS];
    int port;

    signal(SIGPIPE, SIG_IGN);
    pid_t sink = sink_start(&port);
    Bench bench = {.url = g_strdup_printf("http://127.0.0.1:%d/messages", port), .day = 1};
    bench.office = office_new(port, "2026-01-01T09:00:00Z");
    office_fill(bench.office, CLIENTS);
    daemon_start(bench.office->daemon);
    office_wait_accepted(bench.office, "welcome", CLIENTS);
    for (int i = 0; i < RUNS; i++) {
        bare[i] = run_bare(&bench);
        ours[i] = run_day(&bench);
    }
    printf("%-36s %8.0f/s   bare libcurl, 32 at once: %.0f/s   ratio %.2f (%.0f to %.0f/s over %d "
           "runs)\n",
           "reminders, due to accepted, durable", median(ours), median(bare),
           median(ours) / median(bare), ours[0], ours[RUNS - 1], RUNS);
    office_free(bench.office);
    sink_stop(sink);
    g_free(bench.url);
    return bench.failed > 0;
}
