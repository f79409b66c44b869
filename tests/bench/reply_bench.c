/* SPDX-License-Identifier: Apache-2.0 */
/* Replies a second by webhook: posted over 64 kept connections from a process of its own, stored durably, acknowledged, read and
 * acted on, by the whole daemon whose clients were asked that morning. Beside it libmicrohttpd alone with one durable insert for
 * each request. The CPU is the store thread's alone. Then how long each waits where fewer come: at 0.8 of the rate that the
 * slower of the two can take. Both write where TMPDIR says. Replies and runs may be given. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "adapters/serve/serve_mhd.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"
#include "tests/bench/plain_hook.h"
#include "tests/bench/poster.h"
#include "tests/bench/sink.h"
#include "tests/support/folder.h"

typedef struct {
    Poster poster;
    Office *office;
    PlainHook *plain;
    char *ours, *bare; /* where they hear */
    int posted;        /* clients who have answered osier */
    int failed;
} Bench;

/* What the poster measured, run by run. */
typedef struct {
    int runs;
    double middle_ms[FIGURE_RUNS_MAX], slow_ms[FIGURE_RUNS_MAX];
} Waits;

static void note(Bench *bench, Waits *waits, const PosterHeard *heard)
{
    bench->failed += heard->refused;
    waits->middle_ms[waits->runs] = heard->middle_ms;
    waits->slow_ms[waits->runs++] = heard->slow_ms;
}

static PosterOrder order_of(const char *url, int first, int count, int a_second)
{
    PosterOrder order = {.first = first, .count = count, .a_second = a_second};

    g_strlcpy(order.url, url, sizeof order.url);
    return order;
}

static void run_bare(Bench *bench, int count, Figure *figure, Waits *waits)
{
    PosterOrder order = order_of(bench->bare, 0, count, 0);

    poster_order(&bench->poster, &order);
    PosterHeard heard = poster_heard(&bench->poster);
    note(bench, waits, &heard);
    figure_add(figure, count / heard.took_s, 0);
}

static void note_heard(uv_poll_t *poll, int status, int events)
{
    (void)events;
    g_assert(status == 0);
    *(bool *)poll->data = true;
}

/* Runs the loop until the poster has its answers, and until all is read. */
static PosterHeard wait_heard(Bench *bench)
{
    uv_loop_t *loop = &bench->office->loop;
    bool heard = false;
    uv_poll_t poll = {.data = &heard};
    const char *what;

    uv_poll_init(loop, &poll, bench->poster.heard);
    uv_poll_start(&poll, UV_READABLE, note_heard);
    while (!heard)
        uv_run(loop, UV_RUN_ONCE);
    uv_close((uv_handle_t *)&poll, NULL);
    while (daemon_holds(bench->office->daemon, &what) > 0)
        uv_run(loop, UV_RUN_ONCE);
    uv_run(loop, UV_RUN_NOWAIT);
    return poster_heard(&bench->poster);
}

/* figure may be NULL. */
static void run_ours(Bench *bench, int count, int a_second, Figure *figure, Waits *waits)
{
    PosterOrder order = order_of(bench->ours, bench->posted, count, a_second);
    double cpu_us = office_store_cpu_us(bench->office);
    int64_t began_us = g_get_monotonic_time();

    poster_order(&bench->poster, &order);
    PosterHeard heard = wait_heard(bench);
    double took_s = (double)(g_get_monotonic_time() - began_us) / G_USEC_PER_SEC;
    bench->posted += count;
    note(bench, waits, &heard);
    if (figure != NULL)
        figure_add(figure, count / took_s, (office_store_cpu_us(bench->office) - cpu_us) / count);
}

static void print_waits(const char *name, const Waits *ours, const Waits *bare)
{
    printf("%-38s %8.1f ms for half of them, %.1f ms for 99 of 100", name,
           figure_median(ours->middle_ms, ours->runs), figure_median(ours->slow_ms, ours->runs));
    if (bare != NULL)
        printf(" | the bare one: %.1f ms, %.1f ms", figure_median(bare->middle_ms, bare->runs),
               figure_median(bare->slow_ms, bare->runs));
    printf(" (limit 10 ms)\n");
    fflush(stdout);
}

static void measure(Bench *bench, int count, int runs)
{
    Figure ours = {0}, bare = {0};
    Waits our_waits = {0}, bare_waits = {0}, paced_waits = {0};

    for (int i = 0; i < runs; i++) {
        run_bare(bench, count, &bare, &bare_waits);
        run_ours(bench, count, 0, &ours, &our_waits);
    }
    int pace = (int)(0.8 * MIN(figure_median(bare.per_second, bare.runs),
                               figure_median(ours.per_second, ours.runs)));
    for (int i = 0; i < runs; i++)
        run_ours(bench, count, pace, NULL, &paced_waits);
    figure_print("replies by webhook, 64 connections", &ours, "libmicrohttpd, one insert each",
                 &bare);
    print_waits("the same, from post to answer", &our_waits, &bare_waits);
    g_autofree char *name = g_strdup_printf("the same where %d a second come", pace);
    print_waits(name, &paced_waits, NULL);
}

/* A morning on which everybody was asked. */
static Office *morning(int sink_port, int clients)
{
    Office *office = office_new(sink_port, "2026-01-01T09:00:00Z");

    office_fill_alike(office, clients);
    office_reopen(office, "2026-01-02T08:29:59Z");
    daemon_start(office->daemon);
    office_wait_accepted(office, clients);
    office_wait_quiet(office);
    return office;
}

int main(int argc, char **argv)
{
    static const ServeLimits LIMITS = {.body_max = 65536,
                                       .connections_max = 512,
                                       .connections_per_address_max = 256,
                                       .idle_timeout_s = 20};
    int count = argc > 1 ? atoi(argv[1]) : 2000, runs = argc > 2 ? atoi(argv[2]) : 5;
    int port, sink_port;
    char *why = NULL;
    Bench bench = {0};

    signal(SIGPIPE, SIG_IGN);
    pid_t sink = sink_start(&sink_port);
    poster_start(&bench.poster);
    bench.office = morning(sink_port, 2 * runs * count);
    Serve *serve = serve_tcp_new(&bench.office->loop, "127.0.0.1:0", &LIMITS, intake_hook,
                                 daemon_intake(bench.office->daemon), &why);
    g_assert(serve != NULL);
    bench.ours = g_strdup_printf("http://127.0.0.1:%d/in", serve_port(serve));
    char *folder = folder_new();
    bench.plain = plain_hook_new(folder, &port);
    bench.bare = g_strdup_printf("http://127.0.0.1:%d/in", port);
    measure(&bench, count, runs);
    poster_stop(&bench.poster);
    plain_hook_free(bench.plain);
    folder_remove(folder);
    serve->close(serve);
    office_free(bench.office);
    sink_stop(sink);
    g_free(bench.ours);
    g_free(bench.bare);
    return bench.failed > 0;
}
