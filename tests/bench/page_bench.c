/* SPDX-License-Identifier: Apache-2.0 */
/* The first view of the page with 2,000 clients, each of whom was asked this morning: how long the server takes, from the request
 * to the answer, and how many bytes go out, the page's own files included. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/page/assets.h"
#include "adapters/serve/serve_memory.h"
#include "daemon/control/control.h"
#include "tests/bench/office.h"

enum { CLIENTS = 2000, RUNS = 21 };

typedef struct {
    bool there;
    int status;
    size_t bytes;
} Answer;

static void answered(const ServeMemoryAnswer *answer, void *context)
{
    Answer *kept = context;

    *kept = (Answer){true, answer->status, g_bytes_get_size(answer->body)};
}

/* Milliseconds from the request to its answer. */
static double ask(Office *office, Serve *serve, const char *path, Answer *answer)
{
    int64_t began_us = g_get_monotonic_time();

    answer->there = false;
    serve_memory_request(serve, "GET", path, NULL, "", 0, answered, answer);
    while (!answer->there)
        uv_run(&office->loop, UV_RUN_ONCE);
    if (answer->status != 200) exit(1);
    return (double)(g_get_monotonic_time() - began_us) / 1000;
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return (left > right) - (left < right);
}

/* The files that a browser fetches before it shows anything. */
static size_t files_bytes(void)
{
    static const char *const FILES[] = {"/",
                                        "/www/page.css",
                                        "/www/icon.svg",
                                        "/www/main.js",
                                        "/www/api.js",
                                        "/www/dom.js",
                                        "/www/enter.js",
                                        "/www/today.js",
                                        "/www/matters.js",
                                        "/www/calls.js",
                                        "/www/report.js",
                                        "/www/replies.js",
                                        "/www/clients.js",
                                        "/www/client.js",
                                        "/www/course.js",
                                        "/www/measures.js",
                                        "/www/fresh.js",
                                        "/www/week.js",
                                        "/www/standing.js",
                                        "/www/words.js"};
    size_t bytes = 0;

    for (size_t i = 0; i < G_N_ELEMENTS(FILES); i++) {
        const char *type;
        g_autoptr(GBytes) file = asset_find(FILES[i], &type);
        if (file == NULL) exit(1);
        bytes += g_bytes_get_size(file);
    }
    return bytes;
}

static void figure(Office *office, Serve *serve, const char *name, const char *path, size_t files)
{
    double ms[RUNS];
    Answer answer;

    for (int i = 0; i < RUNS; i++)
        ms[i] = ask(office, serve, path, &answer);
    qsort(ms, RUNS, sizeof ms[0], by_size);
    printf(
        "%-36s %8.1f ms (limit 100 ms; slowest of %d: %.1f ms), %zu kB with %zu kB of files (limit "
        "200 kB)\n",
        name, ms[RUNS / 2], RUNS, ms[RUNS - 1], (answer.bytes + files) / 1000, files / 1000);
}

int main(void)
{
    static const ServeLimits LIMITS = {
        .body_max = 65536, .connections_max = 10, .idle_timeout_s = 10};
    Office *office = office_new(0, "2026-01-02T09:00:00Z");

    office_fill(office, CLIENTS);
    office_reopen(office, "2026-01-03T08:31:00Z");
    daemon_start(office->daemon);
    office_wait_quiet(office);
    Serve *serve = serve_memory_new(&LIMITS, control_handle, office->daemon);
    figure(office, serve, "page, first view, 2,000 clients", "/today", files_bytes());
    figure(office, serve, "page, clients, 2,000 of them", "/roster", files_bytes());
    figure(office, serve, "page, a name among 2,000", "/roster?name=7", files_bytes());
    serve->close(serve);
    office_free(office);
    return 0;
}
