/* SPDX-License-Identifier: Apache-2.0 */
/* Requests a second to a sink on the loopback, 32 at once: through the net port, and through bare
 * libcurl. The sink is a process of its own, so that its work is the same for both. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/net/net_curl.h"
#include "tests/bench/bare.h"
#include "tests/bench/figure.h"
#include "tests/bench/sink.h"

enum { AT_ONCE = 32, COUNT = 6000, RUNS = 5 };

static const char message[] = "{\"to\":\"+447700900123\",\"text\":\"Calves today, two minutes each "
                              "side. Reply with a number.\"}";

typedef struct {
    char *url;
    int left, under_way;
    Net *net;
    int failed;
} Bench;

static void run_bare(int count, void *context)
{
    Bench *bench = context;
    BareRun bare = {.url = bench->url};

    bare_run(count, &bare);
    bench->failed += bare.failed;
}

/* ---- the net port ---- */

static void submit_next(Bench *bench);

static void note(WireResponse *response, void *context)
{
    Bench *bench = context;
    if (response->phase != PHASE_ANSWERED || response->status != 202) bench->failed++;
    wire_response_free(response);
    bench->under_way--;
    submit_next(bench);
}

static void submit_next(Bench *bench)
{
    if (bench->left == 0) return;
    bench->left--;
    bench->under_way++;
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, bench->url);
    request->body = g_bytes_new_static(message, strlen(message));
    wire_request_header(request, "Content-Type", "application/json");
    net_submit(bench->net, request, note, bench);
}

static int64_t wall(void *context)
{
    (void)context;
    return g_get_real_time() / 1000;
}

static void run_net(int count, void *context)
{
    Bench *bench = context;
    uv_loop_t loop;
    char *why = NULL;
    const NetCurlOptions options = {
        .loopback_only = true, .wall_ms = wall, .connections_max = AT_ONCE};
    uv_loop_init(&loop);
    bench->net = net_curl_new(&loop, &options, &why);
    g_assert(bench->net != NULL);
    bench->left = count;
    for (int i = 0; i < AT_ONCE; i++)
        submit_next(bench);
    while (bench->under_way > 0)
        uv_run(&loop, UV_RUN_ONCE);
    bench->net->close(bench->net);
    uv_run(&loop, UV_RUN_DEFAULT);
    g_assert(uv_loop_close(&loop) == 0);
}

int main(void)
{
    int port;
    signal(SIGPIPE, SIG_IGN);
    pid_t sink = sink_start(&port);
    Bench bench = {.url = g_strdup_printf("http://127.0.0.1:%d/messages", port)};
    Figure net, bare;
    figure_compare(run_net, run_bare, COUNT, RUNS, &bench, &net, &bare);
    figure_print("net, 32 requests at once", &net, "bare libcurl", &bare);
    sink_stop(sink);
    g_free(bench.url);
    if (bench.failed > 0)
        fprintf(stderr, "%d requests failed: the figures mean nothing\n", bench.failed);
    return bench.failed > 0;
}
