/* SPDX-License-Identifier: Apache-2.0 */
/* After an outage: 50,000 messages wait, and an alert among them. The line comes back: how soon does the alert leave, and
 * how much memory did the waiting take? The gateway is part of this process, so its memory is counted too. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "adapters/serve/serve_mhd.h"
#include "adapters/store/find_people.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/post.h"
#include "tests/bench/office.h"
#include "tests/bench/sink.h"

enum { CLIENTS = 1000, EACH = 50, PAGE_CLIENTS = 20 };

#define FOUND_MOST_US 5500000 /* an alert waits: a knock each five seconds */

typedef struct {
    Office *office;
    int64_t alert_us; /* when the first alert came */
    int others_before;
    int heard;
    int page;
    bool done;
} Bench;

static void hear(ServeRequest *request, void *context)
{
    Bench *bench = context;
    gsize length;
    const char *body = g_bytes_get_data(serve_body(request), &length);
    bool alert = g_strstr_len(body, (gssize)length, "NOW ") != NULL;

    if (alert && bench->alert_us == 0) bench->alert_us = g_get_monotonic_time();
    if (!alert && bench->alert_us == 0) bench->others_before++;
    bench->heard++;
    serve_answer_json(request, 202, g_strdup("{\"id\":\"m-1\"}"));
}

/* --- what waits --- */

static void post_some(Job *job, const char *client)
{
    g_autoptr(Person) person = person_load(job, client);

    for (int i = 0; i < EACH; i++) {
        g_autofree char *purpose = g_strdup_printf("outage/%s/%d", client, i);
        g_free(post_client(job, person,
                           &(Post){.kind = MESSAGE_ANSWER,
                                   .purpose = purpose,
                                   .text = "Thank you. Your clinic can see your answer, and will "
                                           "write to you if anything is to change.",
                                   .end_ms = job->now_ms + 3 * HOUR_MS}));
    }
}

static bool post_job(Job *job, void *context)
{
    Bench *bench = context;
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    for (int i = 0; i < PAGE_CLIENTS; i++)
        post_some(job, clients->pdata[bench->page * PAGE_CLIENTS + i]);
    return true;
}

static bool alert_job(Job *job, void *context)
{
    g_autoptr(GPtrArray) clients = find_clients(job->tx);
    g_autoptr(Person) person = person_load(job, clients->pdata[0]);
    json_t *reasons = json_array();

    (void)context;
    g_free(alert_open(
        job, person,
        &(Opening){.kind = "heart", .class = ALERT_NOW, .cause = "outage", .reasons = reasons}));
    json_decref(reasons);
    return true;
}

static void job_done(StoreStatus status, void *context)
{
    g_assert(status == STORE_OK);
    ((Bench *)context)->done = true;
}

static void do_job(Bench *bench, JobRun *run)
{
    bench->done = false;
    desk_submit(daemon_desk(bench->office->daemon), run, job_done, bench);
    while (!bench->done)
        uv_run(&bench->office->loop, UV_RUN_ONCE);
}

/* --- the line --- */

static bool is_down(const Bench *bench)
{
    json_t *line = relay_line_json(daemon_relay(bench->office->daemon));
    bool down = json_is_true(json_object_get(line, "down"));

    json_decref(line);
    return down;
}

static double peak_mb(void)
{
    g_autofree char *status = NULL;

    g_assert(g_file_get_contents("/proc/self/status", &status, NULL, NULL));
    const char *line = strstr(status, "VmHWM:");
    return line != NULL ? atof(line + strlen("VmHWM:")) / 1024 : -1;
}

int main(void)
{
    const ServeLimits limits = {.body_max = 65536, .connections_max = 256, .idle_timeout_s = 60};
    int port = sink_free_port(), mail = sink_free_port();
    Bench bench = {0};
    char *why = NULL;

    signal(SIGPIPE, SIG_IGN);
    bench.office = office_new_with_mail(port, mail, "2026-01-02T12:00:00Z");
    office_fill(bench.office, CLIENTS);
    daemon_start(bench.office->daemon);
    for (bench.page = 0; bench.page < CLIENTS / PAGE_CLIENTS; bench.page++)
        do_job(&bench, post_job);
    do_job(&bench, alert_job);
    while (!is_down(&bench))
        uv_run(&bench.office->loop, UV_RUN_ONCE);
    g_autofree char *listen = g_strdup_printf("127.0.0.1:%d", port);
    Serve *serve = serve_tcp_new(&bench.office->loop, listen, &limits, hear, &bench, &why);
    g_assert(serve != NULL);
    int64_t open_us = g_get_monotonic_time();
    while (is_down(&bench))
        uv_run(&bench.office->loop, UV_RUN_ONCE);
    int64_t back_us = g_get_monotonic_time();
    while (bench.alert_us == 0 || bench.heard < CLIENTS)
        uv_run(&bench.office->loop, UV_RUN_ONCE);
    printf(
        "%-36s %8.0f ms after the line was found back, %d others before it (limit 1000 ms); found "
        "after %.1f s (limit 5.5 s)\n",
        "outage, 50,000 wait, first alert", (double)(bench.alert_us - back_us) / 1000,
        bench.others_before, (double)(back_us - open_us) / 1e6);
    printf("%-36s %8.1f MB at most (limit 100 MB)\n", "outage, memory", peak_mb());
    bool good =
        bench.alert_us - back_us < 1000000 && back_us - open_us < FOUND_MOST_US && peak_mb() < 100;
    serve->close(serve);
    fflush(stdout);
    _exit(good ? 0 : 1); /* what still waits need not be sent */
}
