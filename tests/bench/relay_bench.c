/* SPDX-License-Identifier: Apache-2.0 */
/* Reminders a second from due to accepted, everything written down durably, beside bare libcurl to the same sink, and beside what a
 * clinic would script. The CPU is
 * the store thread's alone. Clients and runs may be given. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/bench/bare.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"
#include "tests/bench/script.h"
#include "tests/bench/sink.h"

/* Each run is another day of the same clinic: its sessions come due at 08:30. */
typedef struct {
    Office *office;
    int clients;
    int day;
    char *url;
    int failed;
} Bench;

/* When the day's sessions come due, by the real clock; now, where opening the store took longer than what was left until then. */
static int64_t due_us(const Bench *bench)
{
    g_autofree char *due = g_strdup_printf("2026-01-%02dT08:30:00Z", bench->day);
    int64_t due_ms;

    g_assert(instant_parse(due, &due_ms));
    int64_t left_ms = due_ms - clock_now(bench->office->clock);
    return g_get_monotonic_time() + MAX(left_ms, 0) * 1000;
}

static void run_day(Bench *bench, Figure *figure)
{
    g_autofree char *early = g_strdup_printf("2026-01-%02dT05:00:00Z", ++bench->day);
    g_autofree char *start = g_strdup_printf("2026-01-%02dT08:29:58Z", bench->day);

    /* Closing the silent sessions of the day before is not part of the figure. */
    office_reopen(bench->office, early);
    daemon_start(bench->office->daemon);
    office_wait_quiet(bench->office);
    office_reopen(bench->office, start);
    daemon_start(bench->office->daemon);
    int64_t began_us = due_us(bench);
    double cpu_us = office_store_cpu_us(bench->office);
    office_wait_accepted(bench->office, bench->clients);
    double rate = bench->clients * 1e6 / (double)(g_get_monotonic_time() - began_us);
    cpu_us = office_store_cpu_us(bench->office) - cpu_us;
    figure_add(figure, rate, cpu_us / bench->clients);
}

static void run_bare(Bench *bench, Figure *figure)
{
    BareRun bare = {.url = bench->url};
    int64_t began_us = g_get_monotonic_time();

    bare_run(bench->clients, &bare);
    bench->failed += bare.failed;
    figure_add(figure, bench->clients * 1e6 / (double)(g_get_monotonic_time() - began_us), 0);
}

enum { SCRIPTED = 30 }; /* fewer, for each takes two programs */

static void run_script(Bench *bench, Figure *figure)
{
    double took_s = script_run_s(SCRIPTED, bench->url);

    if (took_s < 0) {
        fprintf(stderr, "the script failed: are sqlite3 and curl there? See make packages\n");
        bench->failed++;
    } else {
        figure_add(figure, SCRIPTED / took_s, 0);
    }
}

static void settle_in(Bench *bench)
{
    bench->day = 1;
    office_fill(bench->office, bench->clients);
    daemon_start(bench->office->daemon);
    office_wait_accepted(bench->office, bench->clients);
}

static void measure(Bench *bench, int runs)
{
    Figure ours = {0}, bare = {0}, script = {0};
    g_autofree char *name = g_strdup_printf("reminders, due to accepted, %d", bench->clients);

    settle_in(bench);
    for (int i = 0; i < runs; i++) {
        run_bare(bench, &bare);
        run_day(bench, &ours);
        run_script(bench, &script);
    }
    figure_print(name, &ours, "libcurl, 32 at once", &bare);
    if (script.runs == ours.runs)
        figure_print("the same", &ours, "sqlite3 and curl in a shell's loop", &script);
    office_free(bench->office);
}

/* The store in a schema, the server on the same machine: its CPU is not in the figure, its time is. */
static void measure_on_server(Bench *bench, int runs)
{
    Figure ours = {0}, bare = {0};

    settle_in(bench);
    for (int i = 0; i < runs; i++) {
        run_bare(bench, &bare);
        run_day(bench, &ours);
    }
    figure_print("the same, store in PostgreSQL", &ours, "libcurl, 32 at once", &bare);
    office_free(bench->office);
}

int main(int argc, char **argv)
{
    int runs = argc > 2 ? atoi(argv[2]) : 5;
    int port;

    signal(SIGPIPE, SIG_IGN);
    pid_t sink = sink_start(&port);
    Bench bench = {.url = g_strdup_printf("http://127.0.0.1:%d/messages", port),
                   .clients = argc > 1 ? atoi(argv[1]) : 3000};
    const char *only = argc > 3 ? argv[3] : "";

    if (strcmp(only, "server") != 0) {
        bench.office = office_new(port, "2026-01-01T09:00:00Z");
        measure(&bench, runs);
    }
    if (strcmp(only, "file") != 0) {
        bench.office = office_new_on_server(port, "2026-01-01T09:00:00Z");
        measure_on_server(&bench, runs);
    }
    sink_stop(sink);
    g_free(bench.url);
    return bench.failed > 0;
}
