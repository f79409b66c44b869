/* SPDX-License-Identifier: Apache-2.0 */
/* Replies a second, stored durably before they are acknowledged, then read and acted on; 64 at once, as from as many
 * webhooks. Beside them, the commits a second that the device gives one after the other. */
#include <stdio.h>

#include "daemon/intake/take_in.h"
#include "tests/bench/office.h"

enum { CLIENTS = 200, REPLIES = 4000, AT_ONCE = 64, COMMITS = 400 };

typedef struct {
    Office *office;
    int sent;
    int stored;
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
    if (bench->sent == REPLIES) return;
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

static bool commit_job(Job *job, void *context)
{
    g_autofree char *value = g_strdup_printf("%d", *(int *)context);

    tx_set_meta(job->tx, "bench", value);
    return true;
}

static void committed(StoreStatus status, void *context)
{
    g_assert(status == STORE_OK);
    (*(int *)context)++;
}

static double commits_a_second(Office *office)
{
    int64_t began_us = g_get_monotonic_time();

    for (int done = 0; done < COMMITS;) {
        int before = done;
        desk_submit(daemon_desk(office->daemon), commit_job, committed, &done);
        while (done == before)
            uv_run(&office->loop, UV_RUN_ONCE);
    }
    return COMMITS * 1e6 / (double)(g_get_monotonic_time() - began_us);
}

int main(void)
{
    Bench bench = {.office = office_new(0, "2026-01-02T08:00:00Z")};
    const char *what;

    office_fill(bench.office, CLIENTS);
    double commits = commits_a_second(bench.office);
    int64_t began_us = g_get_monotonic_time();
    for (int i = 0; i < AT_ONCE; i++)
        send_next(&bench);
    while (bench.stored < REPLIES || daemon_holds(bench.office->daemon, &what) > 0)
        uv_run(&bench.office->loop, UV_RUN_ONCE);
    double replies = REPLIES * 1e6 / (double)(g_get_monotonic_time() - began_us);
    printf("%-36s %8.0f/s   commits one after the other: %.0f/s   ratio %.2f\n",
           "replies, stored durably and read", replies, commits, replies / commits);
    office_free(bench.office);
    return 0;
}
