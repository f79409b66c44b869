/* SPDX-License-Identifier: Apache-2.0 */
/* Requests a second to a sink on the loopback, 32 at once: through the net port, and through bare
 * libcurl. The sink is a process of its own, so that its work is the same for both. */
#include <curl/curl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "adapters/net/net_curl.h"
#include "adapters/serve/serve_mhd.h"
#include "tests/bench/figure.h"

enum { AT_ONCE = 32, COUNT = 6000, RUNS = 5 };

static const char message[] = "{\"to\":\"+447700900123\",\"text\":\"Calves today, two minutes each "
                              "side. Reply with a number.\"}";

typedef struct {
    char *url;
    int left, under_way;
    Net *net;
    int failed;
} Bench;

/* ---- the sink ---- */

static void accept_message(ServeRequest *request, void *context)
{
    (void)context;
    serve_answer_json(request, 202, g_strdup("{\"id\":\"m-1\"}"));
}

static void run_sink(int port_pipe)
{
    uv_loop_t loop;
    char *why = NULL;
    const ServeLimits limits = {.body_max = 65536, .connections_max = 256, .idle_timeout_s = 60};
    uv_loop_init(&loop);
    Serve *serve = serve_tcp_new(&loop, "127.0.0.1:0", &limits, accept_message, NULL, &why);
    g_assert(serve != NULL);
    int port = serve_port(serve);
    g_assert(write(port_pipe, &port, sizeof port) == sizeof port);
    uv_run(&loop, UV_RUN_DEFAULT);
}

static pid_t start_sink(int *port)
{
    int ends[2];
    g_assert(pipe(ends) == 0);
    pid_t sink = fork();
    if (sink == 0) {
        run_sink(ends[1]);
        exit(0);
    }
    g_assert(sink > 0 && read(ends[0], port, sizeof *port) == sizeof *port);
    close(ends[0]);
    close(ends[1]);
    return sink;
}

/* ---- bare libcurl ---- */

static size_t swallow(char *data, size_t size, size_t count, void *context)
{
    (void)data;
    (void)context;
    return size * count;
}

static bool add_bare(Bench *bench, CURLM *multi, CURL *easy)
{
    if (bench->left == 0) return false;
    bench->left--;
    return curl_multi_add_handle(multi, easy) == CURLM_OK;
}

static int collect_bare(Bench *bench, CURLM *multi)
{
    int left, ended = 0;
    for (CURLMsg *news; (news = curl_multi_info_read(multi, &left)) != NULL; ended++) {
        CURL *easy = news->easy_handle;
        long status = 0;
        curl_easy_getinfo(easy, CURLINFO_RESPONSE_CODE, &status);
        if (status != 202) bench->failed++;
        curl_multi_remove_handle(multi, easy);
        add_bare(bench, multi, easy);
    }
    return ended;
}

static void run_bare(int count, void *context)
{
    Bench *bench = context;
    CURLM *multi = curl_multi_init();
    CURL *easies[AT_ONCE];
    struct curl_slist *headers = curl_slist_append(NULL, "Content-Type: application/json");
    bench->left = count;
    for (int i = 0; i < AT_ONCE; i++) {
        easies[i] = curl_easy_init();
        curl_easy_setopt(easies[i], CURLOPT_URL, bench->url);
        curl_easy_setopt(easies[i], CURLOPT_HTTPHEADER, headers);
        curl_easy_setopt(easies[i], CURLOPT_POSTFIELDS, message);
        curl_easy_setopt(easies[i], CURLOPT_WRITEFUNCTION, swallow);
        add_bare(bench, multi, easies[i]);
    }
    for (int ended = 0, running; ended < count; ended += collect_bare(bench, multi)) {
        curl_multi_poll(multi, NULL, 0, 1000, NULL);
        curl_multi_perform(multi, &running);
    }
    for (int i = 0; i < AT_ONCE; i++)
        curl_easy_cleanup(easies[i]);
    curl_multi_cleanup(multi);
    curl_slist_free_all(headers);
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
    pid_t sink = start_sink(&port);
    Bench bench = {.url = g_strdup_printf("http://127.0.0.1:%d/messages", port)};
    Figure net, bare;
    figure_compare(run_net, run_bare, COUNT, RUNS, &bench, &net, &bare);
    figure_print("net, 32 requests at once", &net, "bare libcurl", &bare);
    kill(sink, SIGTERM);
    waitpid(sink, NULL, 0);
    g_free(bench.url);
    if (bench.failed > 0)
        fprintf(stderr, "%d requests failed: the figures mean nothing\n", bench.failed);
    return bench.failed > 0;
}
