/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/store_bench.h"

#include <glib/gstdio.h>

#include "adapters/store/store_postgres.h"
#include "core/ledger/chain.h"
#include "tests/support/pg_server.h"

char *bench_folder(void)
{
    g_autoptr(GError) error = NULL;
    char *folder = g_dir_make_tmp("osier-store-XXXXXX", &error);

    if (folder == NULL) g_error("%s", error->message);
    return folder;
}

void bench_remove(const char *folder)
{
    GDir *dir = g_dir_open(folder, 0, NULL);
    const char *name;

    while ((name = g_dir_read_name(dir)) != NULL) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        g_remove(path);
    }
    g_dir_close(dir);
    g_rmdir(folder);
}

void bench_reopen(Bench *bench)
{
    char *why = NULL;

    if (bench->sort == BENCH_POSTGRES) {
        const PostgresPlace place = {.connect = pg_server_connect(), .schema = bench->schema};
        if (store_postgres_open(&bench->loop, &place, STORE_LIVE, BENCH_REPLICA, BENCH_MORNING,
                                &bench->store, &why) != OPEN_OK)
            g_error("%s", why);
        return;
    }
    if (store_sqlite_open(&bench->loop, bench->path, STORE_LIVE, BENCH_REPLICA, BENCH_MORNING,
                          &bench->store, &why) != OPEN_OK)
        g_error("%s", why);
}

Bench *bench_open(BenchSort sort)
{
    Bench *bench = g_new0(Bench, 1);

    bench->sort = sort;
    uv_loop_init(&bench->loop);
    if (sort == BENCH_MEMORY) {
        bench->store = store_memory_new(BENCH_REPLICA, BENCH_MORNING);
        return bench;
    }
    if (sort == BENCH_POSTGRES) {
        bench->schema = pg_server_schema();
        bench_reopen(bench);
        return bench;
    }
    bench->folder = bench_folder();
    bench->path = g_build_filename(bench->folder, "store.db", NULL);
    bench_reopen(bench);
    return bench;
}

void bench_shut(Bench *bench)
{
    bench->store->close(bench->store);
    bench->store = NULL;
    uv_run(&bench->loop, UV_RUN_DEFAULT);
}

void bench_close(Bench *bench)
{
    if (bench->store != NULL) bench_shut(bench);
    uv_loop_close(&bench->loop);
    if (bench->folder != NULL) bench_remove(bench->folder);
    g_free(bench->folder);
    g_free(bench->path);
    g_free(bench->schema);
    g_free(bench);
}

GPtrArray *bench_check(const Bench *bench)
{
    GPtrArray *findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;
    OpenResult opened = store_sqlite_check(bench->path, false, findings, &events, &why);

    g_assert(opened == OPEN_OK);
    return findings;
}

void bench_submit(Bench *bench, StoreJob *job, StoreDone *done, void *context)
{
    store_submit(bench->store, BENCH_MORNING, job, done, context);
}

void bench_run(Bench *bench)
{
    while (bench->store->pending(bench->store) > 0) {
        if (bench->sort == BENCH_MEMORY)
            store_memory_pump(bench->store);
        else
            uv_run(&bench->loop, UV_RUN_ONCE);
    }
}

typedef struct {
    StoreJob *job;
    void *context;
    StoreStatus status;
} Errand;

static bool run_errand(Tx *tx, void *context)
{
    Errand *errand = context;

    return errand->job(tx, errand->context);
}

static void end_errand(StoreStatus status, void *context)
{
    ((Errand *)context)->status = status;
}

StoreStatus bench_do(Bench *bench, StoreJob *job, void *context)
{
    Errand errand = {.job = job, .context = context, .status = STORE_FAILED};

    bench_submit(bench, run_errand, end_errand, &errand);
    bench_run(bench);
    return errand.status;
}

bool bench_append(Tx *tx, void *week)
{
    tx_append(tx, "digest.sent", week, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)tx_now(tx)));
    return true;
}

typedef struct {
    int count;
    bool holds;
    uint8_t digest[DIGEST_BYTES];
} Walk;

static bool walk(const Event *event, void *context)
{
    Walk *at = context;

    at->count++;
    at->holds = at->holds && event->seq == at->count &&
                chain_holds(event, at->count == 1 ? NULL : at->digest);
    memcpy(at->digest, event->digest, DIGEST_BYTES);
    return true;
}

bool bench_count(Tx *tx, void *count)
{
    Walk at = {.holds = true};

    tx_events(tx, "replica = ?1 ORDER BY seq", walk, &at, "t", tx_replica(tx));
    g_assert(at.holds);
    *(int *)count = at.count;
    return true;
}
