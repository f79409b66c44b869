/* SPDX-License-Identifier: Apache-2.0 */
/* A fresh replica takes in a ledger, parcel by parcel, tables included, beside copying the same rows and indexes by ATTACH and INSERT
 * SELECT: 100,000 events, or as many as the first argument says. And what a parcel with nothing to say weighs. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include <sqlite3.h>

#include "adapters/peer/parcel.h"
#include "tests/bench/history.h"
#include "tests/support/store_bench.h"

/* What a visit carries at once to who lacks very much. */
#define PARCEL_EVENTS 1000
#define SOURCE "00000000000000aa"
#define FRESH "00000000000000bb"

static double resident_mb(void)
{
    g_autofree char *status = NULL;
    const char *line;

    g_assert(g_file_get_contents("/proc/self/status", &status, NULL, NULL));
    line = strstr(status, "VmHWM:");
    return line != NULL ? atof(line + strlen("VmHWM:")) / 1024 : -1;
}

/* Of the processor, by all threads. */
static double cpu_s(void)
{
    struct rusage used;

    getrusage(RUSAGE_SELF, &used);
    return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
           (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) / 1e6;
}

static void kept(StoreStatus status, void *context)
{
    (void)context;
    g_assert(status == STORE_OK);
}

static Store *open_store(uv_loop_t *loop, const char *path, const char *replica)
{
    Store *store = NULL;
    g_autofree char *why = NULL;

    if (store_sqlite_open(loop, path, STORE_LIVE, replica, BENCH_MORNING, &store, &why) != OPEN_OK)
        g_error("%s", why);
    return store;
}

static void run(uv_loop_t *loop, Store *store, StoreJob *job, void *context)
{
    store_submit(store, BENCH_MORNING, job, kept, context);
    while (store->pending(store) > 0)
        uv_run(loop, UV_RUN_ONCE);
}

static bool write_job(Tx *tx, void *context)
{
    int *from = context;

    for (int i = 0; i < 1000; i++, (*from)++)
        history_write(tx, *from, history_client(*from), BENCH_MORNING);
    return true;
}

/* --- parcel by parcel --- */

typedef struct {
    Parcel *parcel;
    GBytes *packed;
    size_t bytes;
    int64_t taken;
    int64_t slowest_us; /* job */
} Exchange;

static bool keep(const Event *event, void *context)
{
    g_ptr_array_add(((Parcel *)context)->events, event_copy(event));
    return true;
}

static bool give_job(Tx *tx, void *context)
{
    Exchange *exchange = context;
    g_autoptr(Parcel) parcel = parcel_new(SOURCE, BENCH_MORNING);

    tx_events(tx, "replica = ?1 AND seq > ?2 ORDER BY seq LIMIT ?3", keep, parcel, "tii", SOURCE,
              exchange->taken, (int64_t)PARCEL_EVENTS);
    exchange->packed = parcel_pack(parcel);
    g_assert(exchange->packed != NULL);
    return true;
}

static bool take_job(Tx *tx, void *context)
{
    Exchange *exchange = context;
    const char *why;
    int64_t began = g_get_monotonic_time();
    g_autoptr(Parcel) parcel = parcel_unpack(exchange->packed, &why);

    for (guint i = 0; i < parcel->events->len; i++)
        g_assert(tx_accept(tx, parcel->events->pdata[i]) == ACCEPT_NEW);
    exchange->taken += parcel->events->len;
    exchange->slowest_us = MAX(exchange->slowest_us, g_get_monotonic_time() - began);
    return true;
}

static double exchange_all(uv_loop_t *loop, Store *from, Store *to, int64_t events,
                           Exchange *exchange)
{
    int64_t began = g_get_monotonic_time();

    while (exchange->taken < events) {
        run(loop, from, give_job, exchange);
        exchange->bytes += g_bytes_get_size(exchange->packed);
        run(loop, to, take_job, exchange);
        g_bytes_unref(exchange->packed);
    }
    return (double)(g_get_monotonic_time() - began) / 1e6;
}

/* --- bare --- */

static void must(sqlite3 *db, const char *sql)
{
    char *why = NULL;

    if (sqlite3_exec(db, sql, NULL, NULL, &why) != SQLITE_OK) g_error("%s: %s", sql, why);
}

static int add_text(void *list, int columns, char **text, char **names)
{
    (void)names;
    for (int i = 0; i < columns; i++)
        g_ptr_array_add(list, g_strdup(text[i]));
    return 0;
}

static GPtrArray *list_of(sqlite3 *db, const char *sql)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);

    g_assert(sqlite3_exec(db, sql, add_text, list, NULL) == SQLITE_OK);
    return list;
}

static double copy_rows(const char *from, const char *to)
{
    sqlite3 *db;
    g_autofree char *attach = g_strdup_printf("ATTACH '%s' AS source", from);
    int64_t began = g_get_monotonic_time();

    g_assert(sqlite3_open(to, &db) == SQLITE_OK);
    must(db, "PRAGMA journal_mode = WAL");
    must(db, attach);
    g_autoptr(GPtrArray) made = list_of(
        db, "SELECT sql FROM source.sqlite_master WHERE sql IS NOT NULL ORDER BY type DESC");
    g_autoptr(GPtrArray) tables =
        list_of(db, "SELECT name FROM source.sqlite_master WHERE type = 'table'");
    must(db, "BEGIN");
    for (guint i = 0; i < made->len; i++)
        must(db, made->pdata[i]);
    for (guint i = 0; i < tables->len; i++) {
        g_autofree char *copy =
            g_strdup_printf("INSERT INTO main.\"%s\" SELECT * FROM source.\"%s\"",
                            (char *)tables->pdata[i], (char *)tables->pdata[i]);
        must(db, copy);
    }
    must(db, "COMMIT");
    sqlite3_close(db);
    return (double)(g_get_monotonic_time() - began) / 1e6;
}

/* --- */

static void weigh_silence(void)
{
    g_autoptr(Parcel) parcel = parcel_new(SOURCE, BENCH_MORNING);
    const char *const IDS[] = {"3f0a1b2c4d5e6f70", "a1b2c3d4e5f60718", "90817263544f5e6d"};

    parcel->name = g_strdup("box");
    for (size_t i = 0; i < G_N_ELEMENTS(IDS); i++) {
        g_autofree char *hex = g_compute_checksum_for_string(G_CHECKSUM_SHA256, IDS[i], -1);
        vector_add(parcel->vector, IDS[i], 1000, (const uint8_t *)hex);
    }
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    printf("%-36s %8zu bytes, of three replicas (limit 2000 each way, with HTTP's own)\n",
           "sync, a parcel with nothing to say", g_bytes_get_size(packed));
}

int main(int argc, char **argv)
{
    int events = argc > 1 ? atoi(argv[1]) : 100000, written = 0;
    g_autofree char *folder = bench_folder();
    g_autofree char *source = g_build_filename(folder, "source.db", NULL);
    g_autofree char *fresh = g_build_filename(folder, "fresh.db", NULL);
    g_autofree char *bare = g_build_filename(folder, "bare.db", NULL);
    uv_loop_t loop;
    Exchange exchange = {0};

    uv_loop_init(&loop);
    Store *from = open_store(&loop, source, SOURCE), *to = open_store(&loop, fresh, FRESH);
    while (written < events)
        run(&loop, from, write_job, &written);
    written = written / 4 * 5; /* a reply is two */
    double cpu_at[] = {cpu_s(), 0, 0, 0};
    double ours_s = exchange_all(&loop, from, to, written, &exchange);
    cpu_at[1] = cpu_s();
    from->close(from);
    to->close(to);
    uv_run(&loop, UV_RUN_DEFAULT);
    uv_loop_close(&loop);
    cpu_at[2] = cpu_s();
    double bare_s = copy_rows(source, bare);
    cpu_at[3] = cpu_s();
    printf("%-36s %8.0f events/s, %.0f bytes each, slowest job %.1f ms\n", "sync, a fresh replica",
           written / ours_s, (double)exchange.bytes / written, (double)exchange.slowest_us / 1000);
    printf("%-36s %8.0f events/s: ours is %.2f of it (limit 0.33)\n",
           "  bare: ATTACH, INSERT SELECT", written / bare_s, bare_s / ours_s);
    printf("%-36s %8.1f us each, both ends; bare %.1f\n", "  of the processor",
           (cpu_at[1] - cpu_at[0]) / written * 1e6, (cpu_at[3] - cpu_at[2]) / written * 1e6);
    printf("%-36s %8.1f MB at the most (limit 100 MB)\n", "sync, memory", resident_mb());
    weigh_silence();
    bench_remove(folder);
    return 0;
}
