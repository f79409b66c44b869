/* SPDX-License-Identifier: Apache-2.0 */
/* A hundred times a child commits and reports each commit on a pipe, until it is killed at a moment
 * nobody chose. What it reported must be there, in a chain without a gap. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/store_bench.h"

#define KILLS 100
#define SEED 20260302u
#define WIDTH 6 /* jobs under way at once, so that commits hold several */

typedef struct {
    Bench *bench;
    int report;
    int seq; /* of the event that was appended */
} Worker;

static bool append_and_tell(Tx *tx, void *context)
{
    Worker *worker = context;
    const char *id =
        tx_append(tx, "digest.sent", "2026-W10", "osier", NULL, json_pack("{s:i}", "at", 5));

    worker->seq = (int)g_ascii_strtoll(strchr(id, ':') + 1, NULL, 10);
    return true;
}

static void report_and_go_on(StoreStatus status, void *context)
{
    Worker *worker = context;

    if (status != STORE_OK || write(worker->report, &worker->seq, sizeof worker->seq) < 0) _exit(1);
    bench_submit(worker->bench, append_and_tell, report_and_go_on, worker);
}

static G_GNUC_NORETURN void work(Bench *bench, int report)
{
    Worker workers[WIDTH];

    bench_reopen(bench);
    for (int i = 0; i < WIDTH; i++) {
        workers[i] = (Worker){.bench = bench, .report = report};
        bench_submit(bench, append_and_tell, report_and_go_on, &workers[i]);
    }
    uv_run(&bench->loop, UV_RUN_DEFAULT);
    _exit(1);
}

/* Reads so many reports, kills, and reads what was still in the pipe: the highest reported seq. */
static int kill_after(pid_t child, int reports, int from)
{
    int highest = 0, seq;

    for (int i = 0; read(from, &seq, sizeof seq) == sizeof seq; i++) {
        highest = MAX(highest, seq);
        if (i == reports) kill(child, SIGKILL);
    }
    return highest;
}

static int events_after(Bench *bench)
{
    int count = 0;

    bench_reopen(bench);
    assert_int_equal(bench_do(bench, bench_count, &count), STORE_OK);
    bench_shut(bench);
    return count;
}

static void nothing_reported_is_lost(void **state)
{
    Bench *bench = g_new0(Bench, 1);
    GRand *random = g_rand_new_with_seed(SEED);
    int reported = 0, kept = 0;

    (void)state;
    print_message("seed %u\n", SEED);
    bench->sort = BENCH_SQLITE;
    bench->folder = bench_folder();
    bench->path = g_build_filename(bench->folder, "store.db", NULL);
    uv_loop_init(&bench->loop);
    for (int i = 0; i < KILLS; i++) {
        int ends[2];

        assert_int_equal(pipe(ends), 0);
        pid_t child = fork();
        if (child == 0) work(bench, ends[1]);
        close(ends[1]);
        int highest = kill_after(child, g_rand_int_range(random, 0, 30), ends[0]);
        reported = MAX(reported, highest);
        close(ends[0]);
        assert_int_equal(waitpid(child, NULL, 0), child);
        kept = events_after(bench);
        assert_true(highest > 0 && kept >= reported);
    }
    print_message("%d kills, %d events reported, %d kept\n", KILLS, reported, kept);
    g_rand_free(random);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_reported_is_lost)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
