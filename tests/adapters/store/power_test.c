/* SPDX-License-Identifier: Apache-2.0 */
/* The power goes at a random write, sync, truncation or deletion, and takes with it what the device had not been asked to keep.
 * What was acknowledged is there afterwards, and `osier check` finds nothing; then the power goes again. As SQLite's own crash
 * tests do ("How SQLite Is Tested", section on crash testing). OSIER_TEST_LONG=1: a thousand points. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <math.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/support/power_vfs.h"
#include "tests/support/store_bench.h"

#define POINTS 25
#define POINTS_LONG 1000
#define LIVES 3    /* of one store, each with its own power cut */
#define ROUNDS 250 /* of jobs in one life: enough for a log that is copied into the database */
#define OPERATIONS_MOST 9000

typedef struct {
    GRand *random;
    uv_loop_t loop;
    char *folder;
    char *path;
    Store *store;
    int next;  /* number of the next job */
    int acked; /* the highest that was acknowledged */
    int64_t acked_seq;
    int copies; /* acknowledged */
    int orders;
    guint32 seed;
} Clinic;

typedef struct {
    Clinic *clinic;
    int number;
    int64_t seq; /* of its last event */
    int sort;
} Work;

static json_t *words(Clinic *clinic, int number)
{
    g_autofree char *text = g_strnfill(
        (gsize)g_rand_int_range(clinic->random, 1, 1 << g_rand_int_range(clinic->random, 2, 13)),
        'w');

    return json_pack("{s:{s:s}, s:i}", "fields", "name", text, "at", number);
}

/* Events, a local row, and now and then somebody's words taken out, which empties the log. */
static bool work_job(Tx *tx, void *context)
{
    Work *work = context;
    g_autofree char *client = g_strdup_printf("ADA%d", work->number % 7);
    g_autofree char *number = g_strdup_printf("%d", work->number);
    const char *id = NULL;

    for (int i = 0; i <= work->sort % 3; i++)
        id = tx_append(tx, "client.set", client, "R. Okafor", NULL,
                       words(work->clinic, work->number));
    if (work->sort == 17)
        id = tx_append(tx, "client.erase", client, "R. Okafor", NULL,
                       json_pack("{s:i, s:s, s:[]}", "at", work->number, "why", "asked", "also"));
    work->seq = g_ascii_strtoll(strchr(id, ':') + 1, NULL, 10);
    tx_set_meta(tx, "number", number);
    return true;
}

static void worked(StoreStatus status, void *context)
{
    Work *work = context;

    if (status == STORE_OK) {
        work->clinic->acked = MAX(work->clinic->acked, work->number);
        work->clinic->acked_seq = MAX(work->clinic->acked_seq, work->seq);
    }
    g_free(work);
}

static char *copy_path(const Clinic *clinic, int number)
{
    return g_strdup_printf("%s/copy-%d.db", clinic->folder, number);
}

static void copied(const char *problem, void *context)
{
    Clinic *clinic = context;

    if (problem == NULL) clinic->copies = clinic->orders;
}

static void settle(Clinic *clinic)
{
    while (clinic->store->pending(clinic->store) > 0)
        uv_run(&clinic->loop, UV_RUN_ONCE);
}

/* --- one life --- */

static bool open_store(Clinic *clinic)
{
    g_autofree char *why = NULL;
    OpenResult result = store_sqlite_open(&clinic->loop, clinic->path, STORE_LIVE, BENCH_REPLICA,
                                          BENCH_MORNING, &clinic->store, &why);

    if (result != OPEN_OK && !power_vfs_is_gone())
        fail_msg("seed %u: it does not open: %s", clinic->seed, why);
    return result == OPEN_OK;
}

static void work_on(Clinic *clinic)
{
    for (int round = 0; round < ROUNDS && !power_vfs_is_gone(); round++) {
        int jobs = g_rand_int_range(clinic->random, 1, 6);
        for (int i = 0; i < jobs; i++) {
            Work *work = g_new0(Work, 1);
            *work = (Work){.clinic = clinic,
                           .number = ++clinic->next,
                           .sort = g_rand_int_range(clinic->random, 0, 40)};
            store_submit(clinic->store, BENCH_MORNING + clinic->next, work_job, worked, work);
        }
        if (g_rand_int_range(clinic->random, 0, 60) == 0) {
            g_autofree char *path = copy_path(clinic, ++clinic->orders);
            clinic->store->copy(clinic->store, path, copied, clinic);
        }
        settle(clinic);
    }
}

static void live(Clinic *clinic)
{
    if (!open_store(clinic)) return;
    work_on(clinic);
    clinic->store->close(clinic->store);
    uv_run(&clinic->loop, UV_RUN_DEFAULT);
    clinic->store = NULL;
}

/* --- afterwards --- */

static bool number_job(Tx *tx, void *context)
{
    g_autofree char *number = tx_meta(tx, "number");

    *(int *)context = number != NULL ? atoi(number) : 0;
    return true;
}

typedef struct {
    StoreJob *job;
    int value;
    StoreStatus status;
} Ask;

static bool ask_job(Tx *tx, void *context)
{
    Ask *ask = context;

    return ask->job(tx, &ask->value);
}

static void asked(StoreStatus status, void *context)
{
    ((Ask *)context)->status = status;
}

/* What a job that reads gives. */
static int ask(Clinic *clinic, StoreJob *job)
{
    Ask ask = {.job = job, .status = STORE_FAILED};

    store_submit(clinic->store, BENCH_MORNING, ask_job, asked, &ask);
    settle(clinic);
    assert_int_equal(ask.status, STORE_OK);
    return ask.value;
}

static void is_sound(const Clinic *clinic, const char *path, int64_t least)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    if (store_sqlite_check(path, false, findings, &events, &why) != OPEN_OK)
        fail_msg("seed %u: %s", clinic->seed, why);
    for (guint i = 0; i < findings->len; i++)
        print_error("%s\n", (char *)findings->pdata[i]);
    if (findings->len > 0 || events < least)
        fail_msg("seed %u: %s: %u findings, %" G_GINT64_FORMAT " events of %" G_GINT64_FORMAT,
                 clinic->seed, path, findings->len, events, least);
}

/* What was acknowledged is there, in a chain without a gap (bench_count looks), with the rows that went with it. */
static void nothing_acknowledged_is_missing(Clinic *clinic)
{
    assert_true(open_store(clinic));
    int events = ask(clinic, bench_count);
    int number = ask(clinic, number_job);
    clinic->store->close(clinic->store);
    uv_run(&clinic->loop, UV_RUN_DEFAULT);
    if (events < clinic->acked_seq || number < clinic->acked)
        fail_msg("seed %u: %d events of %" G_GINT64_FORMAT ", job %d of %d", clinic->seed, events,
                 clinic->acked_seq, number, clinic->acked);
    is_sound(clinic, clinic->path, clinic->acked_seq);
    if (clinic->copies == 0) return;
    g_autofree char *copy = copy_path(clinic, clinic->copies);
    is_sound(clinic, copy, 1);
}

/* Early operations as often as late ones of a long life. */
static int draw_operation(GRand *random)
{
    return (int)exp(g_rand_double_range(random, 0, log(OPERATIONS_MOST)));
}

static char *fast_folder(void)
{
    char *folder = g_strdup("/dev/shm/osier-power-XXXXXX");

    if (g_mkdtemp(folder) != NULL) return folder;
    g_free(folder);
    return bench_folder();
}

/* The number of power cuts that struck. */
static int try_point(guint32 seed)
{
    Clinic clinic = {.random = g_rand_new_with_seed(seed), .folder = fast_folder(), .seed = seed};
    int cuts = 0;

    uv_loop_init(&clinic.loop);
    clinic.path = g_build_filename(clinic.folder, "store.db", NULL);
    for (int life = 0; life < LIVES; life++) {
        power_vfs_begin(seed + (guint32)life, draw_operation(clinic.random));
        live(&clinic);
        cuts += power_vfs_is_gone();
        power_vfs_restore();
        nothing_acknowledged_is_missing(&clinic);
    }
    uv_loop_close(&clinic.loop);
    bench_remove(clinic.folder);
    g_free(clinic.folder);
    g_free(clinic.path);
    g_rand_free(clinic.random);
    return cuts;
}

static void a_power_cut_takes_nothing_acknowledged(void **state)
{
    int points = g_getenv("OSIER_TEST_LONG") != NULL ? POINTS_LONG : POINTS;
    int cuts = 0;

    (void)state;
    for (int i = 0; i < points; i++)
        cuts += try_point(20260302u + (guint32)i * 7);
    print_message("%d stores, %d power cuts: nothing acknowledged is missing\n", points, cuts);
    assert_true(cuts > points);
}

/* --- does the file system of this test do what it says? --- */

static int put(sqlite3 *db, const char *sql)
{
    return sqlite3_exec(db, sql, NULL, NULL, NULL);
}

/* Without a sync at each commit (synchronous = NORMAL in a write-ahead log) SQLite promises no durability ("PRAGMA synchronous",
 * sqlite.org): some of what was committed is then gone. A device that lost nothing here would prove nothing above. */
static void without_syncs_something_is_missing(void **state)
{
    int lost = 0;

    (void)state;
    for (guint32 seed = 1; seed <= 40; seed++) {
        char *folder = fast_folder();
        g_autofree char *path = g_build_filename(folder, "plain.db", NULL);
        sqlite3 *db = NULL;
        int committed = 0;
        sqlite3_stmt *count = NULL;
        power_vfs_begin(seed, 40 + (int)seed * 5);
        assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
        put(db, "PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = WAL; PRAGMA synchronous = "
                "NORMAL; CREATE TABLE t (n INTEGER)");
        while (put(db, "INSERT INTO t VALUES (1)") == SQLITE_OK)
            committed++;
        sqlite3_close(db);
        power_vfs_restore();
        assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
        put(db, "PRAGMA locking_mode = EXCLUSIVE");
        if (sqlite3_prepare_v2(db, "SELECT count(*) FROM t", -1, &count, NULL) == SQLITE_OK &&
            sqlite3_step(count) == SQLITE_ROW)
            lost += sqlite3_column_int(count, 0) < committed;
        else
            lost += committed > 0;
        sqlite3_finalize(count);
        sqlite3_close(db);
        power_vfs_restore();
        bench_remove(folder);
        g_free(folder);
    }
    print_message("without syncs %d of 40 lost commits\n", lost);
    assert_true(lost > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_syncs_something_is_missing),
        cmocka_unit_test(a_power_cut_takes_nothing_acknowledged),
    };

    power_vfs_install();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
