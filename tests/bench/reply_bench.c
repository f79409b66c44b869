/* SPDX-License-Identifier: Apache-2.0 */
/* Replies a second, stored durably before they are acknowledged, then read and acted on; 64 at once, as from as many
 * webhooks. Beside them, one durable commit for each, as many at once as come. The CPU is the store thread's alone. */
#include <stdio.h>

#include "daemon/intake/take_in.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"

enum { CLIENTS = 200, REPLIES = 2000, AT_ONCE = 64, COMMITS = 2000, RUNS = 5 };

typedef struct {
    Office *office;
    int sent;
    int stored;
    int wanted;
} Bench;

static void send_next(Bench *bench);

static void stored(StoreStatus status, int fresh, void *context)
{
    Bench *bench = context;

    g_assert(status == STORE_OK && fresh == 1);
    bench->stored++;
    send_next(bench);
}

static void send_next(Bench *bench)
{
    if (bench->sent == bench->wanted) return;
    int number = bench->sent++;
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    Incoming *incoming = g_new0(Incoming, 1);

    *incoming = (Incoming){.id = g_strdup_printf("in-%d", number),
                           .from = g_strdup_printf("+4477%08d", number % CLIENTS),
                           .text = g_strdup("D 4 P0 went well"),
                           .at_ms = -1};
    g_ptr_array_add(items, incoming);
    take_in(daemon_desk(bench->office->daemon),
            &(Taking){.gateway = "texts", .channel = CHANNEL_SMS, .items = items}, stored, bench);
}

static void take_replies(Bench *bench, Figure *figure)
{
    double cpu_us = office_store_cpu_us(bench->office);
    int64_t began_us = g_get_monotonic_time();
    const char *what;

    bench->wanted += REPLIES;
    for (int i = 0; i < AT_ONCE; i++)
        send_next(bench);
    while (bench->stored < bench->wanted || daemon_holds(bench->office->daemon, &what) > 0)
        uv_run(&bench->office->loop, UV_RUN_ONCE);
    double rate = REPLIES * 1e6 / (double)(g_get_monotonic_time() - began_us);
    figure_add(figure, rate, (office_store_cpu_us(bench->office) - cpu_us) / REPLIES);
}

typedef struct {
    int done;
    int left;
    int under_way;
} Commits;

static bool commit_job(Job *job, void *context)
{
    (void)context;
    tx_set_meta(job->tx, "bench", "1");
    return true;
}

static void committed(StoreStatus status, void *context)
{
    Commits *commits = context;

    g_assert(status == STORE_OK);
    commits->done++;
    commits->under_way--;
}

static void commit_all(Office *office, Figure *figure)
{
    double cpu_us = office_store_cpu_us(office);
    int64_t began_us = g_get_monotonic_time();
    Commits commits = {.left = COMMITS};

    while (commits.done < COMMITS) {
        for (; commits.left > 0 && commits.under_way < AT_ONCE; commits.left--) {
            commits.under_way++;
            desk_submit(daemon_desk(office->daemon), commit_job, committed, &commits);
        }
        uv_run(&office->loop, UV_RUN_ONCE);
    }
    double rate = COMMITS * 1e6 / (double)(g_get_monotonic_time() - began_us);
    figure_add(figure, rate, (office_store_cpu_us(office) - cpu_us) / COMMITS);
}

int main(void)
{
    Bench bench = {.office = office_new(0, "2026-01-02T08:00:00Z")};
    Figure replies = {0}, commits = {0};

    office_fill(bench.office, CLIENTS);
    for (int i = 0; i < RUNS; i++) {
        commit_all(bench.office, &commits);
        take_replies(&bench, &replies);
    }
    figure_print("replies, stored durably and read", &replies, "one job each, 64 at once",
                 &commits);
    office_free(bench.office);
    return 0;
}
