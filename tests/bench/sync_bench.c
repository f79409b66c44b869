/* SPDX-License-Identifier: Apache-2.0 */
/* A fresh replica takes in a ledger, by a snapshot and parcel by parcel, tables included, beside copying the same rows and indexes by ATTACH and INSERT
 * SELECT: 100,000 events, or as many as the first argument says; with a second argument not one by one. And what a parcel with
 * nothing to say weighs. */
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include <sqlite3.h>

#include "adapters/peer/parcel.h"
#include "adapters/store/snapshot.h"
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

/* What follows is measured by itself. */
static void forget_peak(void)
{
    FILE *peak = fopen("/proc/self/clear_refs", "w");

    g_assert(peak != NULL && fputs("5", peak) >= 0 && fclose(peak) == 0);
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

/* --- by a snapshot --- */

typedef struct {
    const char *copy, *made, *brought; /* files */
    SnapshotLook *look;
    int64_t
        at_us[6]; /* the copy, the making, the carrying, the looking over, the taking, the end */
} Snapshot;

static void copied(const char *problem, void *context)
{
    (void)context;
    g_assert(problem == NULL);
}

/* As a line does: piece by piece, hashed on arrival. */
static void carry_file(const char *from, const char *to, const uint8_t *digest)
{
    static uint8_t piece[1024 * 1024];
    uint8_t found[HASH_BYTES];
    FILE *in = fopen(from, "r"), *out = fopen(to, "w");
    Hash hash;
    size_t length;

    hash_begin(&hash);
    while ((length = fread(piece, 1, sizeof piece, in)) > 0) {
        sha256_update(&hash.state, length, piece);
        g_assert(fwrite(piece, 1, length, out) == length);
    }
    hash_end(&hash, found);
    g_assert(memcmp(found, digest, sizeof found) == 0);
    g_assert(fclose(in) == 0 && fclose(out) == 0);
}

static void hear_none(const Event *event, void *context)
{
    (void)event;
    (void)context;
}

static bool take_snapshot_job(Tx *tx, void *context)
{
    const Snapshot *snapshot = context;

    return snapshot_take(tx, snapshot->brought, snapshot->look, hear_none, NULL) == NULL;
}

static void give_snapshot(uv_loop_t *loop, Store *from, Snapshot *snapshot, SnapshotMade *made)
{
    snapshot->at_us[0] = g_get_monotonic_time();
    from->copy(from, snapshot->copy, copied, NULL);
    while (from->pending(from) > 0)
        uv_run(loop, UV_RUN_ONCE);
    snapshot->at_us[1] = g_get_monotonic_time();
    g_autofree char *problem = snapshot_make(snapshot->copy, snapshot->made, made);
    g_assert(problem == NULL);
    unlink(snapshot->copy);
    snapshot->at_us[2] = g_get_monotonic_time();
}

static void get_snapshot(uv_loop_t *loop, Store *to, Snapshot *snapshot, const SnapshotMade *made)
{
    const char *why;
    int64_t began_us = g_get_monotonic_time();

    carry_file(snapshot->made, snapshot->brought, made->digest);
    snapshot->at_us[3] = snapshot->at_us[2] + g_get_monotonic_time() - began_us;
    snapshot->look = snapshot_look_over(snapshot->brought, BENCH_MORNING, &why);
    g_assert(snapshot->look != NULL);
    snapshot->at_us[4] = snapshot->at_us[2] + g_get_monotonic_time() - began_us;
    run(loop, to, take_snapshot_job, snapshot);
    snapshot->at_us[5] = snapshot->at_us[2] + g_get_monotonic_time() - began_us;
    snapshot_look_free(snapshot->look);
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

static void tell_snapshot(const Snapshot *snapshot, const SnapshotMade *made, int64_t events,
                          double bare_s)
{
    const int64_t *at_us = snapshot->at_us;
    double ours_s = (double)(at_us[5] - at_us[0]) / 1e6, each[5];

    for (int i = 0; i < 5; i++)
        each[i] = (double)(at_us[i + 1] - at_us[i]) / (double)events;
    printf("%-36s %8.0f events/s, %.0f bytes each: %.2f of it (limit 0.33)\n",
           "sync, a fresh replica by a snapshot", (double)events / ours_s,
           (double)made->bytes / (double)events, bare_s / ours_s);
    printf(
        "%-36s us each: copying %.1f, making %.1f, carrying %.1f, looking over %.1f, taking %.1f\n",
        "  one after the other", each[0], each[1], each[2], each[3], each[4]);
}

typedef struct {
    uv_loop_t loop;
    char *folder, *source, *fresh, *replayed, *bare, *copy, *made, *brought;
    Store *from;
    int written;
} Bed;

static char *in_folder(const Bed *bed, const char *name)
{
    return g_build_filename(bed->folder, name, NULL);
}

static void make_bed(Bed *bed, int events)
{
    bed->folder = bench_folder();
    bed->source = in_folder(bed, "source.db");
    bed->fresh = in_folder(bed, "fresh.db");
    bed->replayed = in_folder(bed, "replayed.db");
    bed->bare = in_folder(bed, "bare.db");
    bed->copy = in_folder(bed, "copy.db");
    bed->made = in_folder(bed, "made");
    bed->brought = in_folder(bed, "brought");
    uv_loop_init(&bed->loop);
    bed->from = open_store(&bed->loop, bed->source, SOURCE);
    while (bed->written < events)
        run(&bed->loop, bed->from, write_job, &bed->written);
    bed->written = bed->written / 4 * 5; /* a reply is two */
}

static void free_bed(Bed *bed)
{
    char *const paths[] = {bed->folder, bed->source, bed->fresh, bed->replayed,
                           bed->bare,   bed->copy,   bed->made,  bed->brought};

    uv_loop_close(&bed->loop);
    bench_remove(bed->folder);
    for (size_t i = 0; i < G_N_ELEMENTS(paths); i++)
        g_free(paths[i]);
}

static void close_store(Bed *bed, Store *store)
{
    store->close(store);
    uv_run(&bed->loop, UV_RUN_DEFAULT);
}

static void tell_replay(Bed *bed, double bare_s)
{
    Store *to = open_store(&bed->loop, bed->replayed, FRESH);
    Exchange exchange = {0};
    double cpu_before = cpu_s();
    double ours_s = exchange_all(&bed->loop, bed->from, to, bed->written, &exchange);

    printf("%-36s %8.0f events/s, %.0f bytes each, slowest job %.1f ms: %.2f of it\n",
           "sync, the same by replay", bed->written / ours_s, (double)exchange.bytes / bed->written,
           (double)exchange.slowest_us / 1000, bare_s / ours_s);
    printf("%-36s %8.1f us each, both ends\n", "  of the processor",
           (cpu_s() - cpu_before) / bed->written * 1e6);
    close_store(bed, to);
}

int main(int argc, char **argv)
{
    Bed bed = {0};
    SnapshotMade made;
    Snapshot snapshot;

    make_bed(&bed, argc > 1 ? atoi(argv[1]) : 100000);
    snapshot = (Snapshot){.copy = bed.copy, .made = bed.made, .brought = bed.brought};
    double given_s = -cpu_s();
    give_snapshot(&bed.loop, bed.from, &snapshot, &made);
    given_s += cpu_s();
    printf("%-36s %8.1f MB at the most (limit 100 MB)\n", "sync, memory, writing and giving",
           resident_mb());
    close_store(&bed, bed.from);
    malloc_trim(0);
    forget_peak();
    Store *to = open_store(&bed.loop, bed.fresh, FRESH);
    double got_s = -cpu_s();
    get_snapshot(&bed.loop, to, &snapshot, &made);
    got_s += cpu_s();
    close_store(&bed, to);
    printf("%-36s %8.1f MB at the most (limit 100 MB)\n", "sync, memory, taking", resident_mb());
    double bare_cpu_s = -cpu_s(), bare_s = copy_rows(bed.source, bed.bare);
    bare_cpu_s += cpu_s();
    printf("%-36s %8.0f events/s\n", "bare: ATTACH, INSERT SELECT", bed.written / bare_s);
    tell_snapshot(&snapshot, &made, bed.written, bare_s);
    printf("%-36s %8.1f us each, both ends; bare %.1f: %.2f of it\n", "  of the processor",
           (given_s + got_s) / bed.written * 1e6, bare_cpu_s / bed.written * 1e6,
           bare_cpu_s / (given_s + got_s));
    bed.from = open_store(&bed.loop, bed.source, SOURCE);
    if (argc <= 2) tell_replay(&bed, bare_s);
    close_store(&bed, bed.from);
    weigh_silence();
    free_bed(&bed);
    return 0;
}
