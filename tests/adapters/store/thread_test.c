/* SPDX-License-Identifier: Apache-2.0 */
/* The store thread: what queues up commits together, and what SQLite would not tell of. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "tests/support/fault_vfs.h"
#include "tests/support/store_bench.h"

static bool wait_for_go(Tx *tx, void *context)
{
    (void)tx;
    uv_sem_wait(context);
    return true;
}

static void count_done(StoreStatus status, void *context)
{
    assert_int_equal(status, STORE_OK);
    ++*(int *)context;
}

static bool append_week(Tx *tx, void *context)
{
    (void)context;
    return bench_append(tx, (void *)"2026-W10");
}

static void what_queues_up_commits_with_one_sync(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    uv_sem_t go;
    int done = 0;

    (void)state;
    uv_sem_init(&go, 0);
    bench_submit(bench, wait_for_go, NULL, &go);
    for (int i = 0; i < 50; i++)
        bench_submit(bench, append_week, count_done, &done);
    fault_vfs_take_syncs();
    uv_sem_post(&go);
    bench_run(bench);
    assert_int_equal(done, 50);
    /* the blocked job may have been taken alone or with some of the others */
    int syncs = fault_vfs_take_syncs();
    assert_true(syncs >= 1 && syncs <= 2);
    uv_sem_destroy(&go);
    bench_close(bench);
}

static void every_commit_is_synced(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);

    (void)state;
    fault_vfs_take_syncs();
    for (int i = 0; i < 10; i++)
        assert_int_equal(bench_do(bench, append_week, NULL), STORE_OK);
    assert_true(fault_vfs_take_syncs() >= 10);
    bench_close(bench);
}

static bool append_many(Tx *tx, void *context)
{
    for (int i = 0; i < 45000; i++)
        append_week(tx, context);
    return true;
}

/* The log of this commit is long enough to be copied into the database at once, whose sync fails.
 * SQLite's automatic checkpoint would swallow that. */
static void failed_sync_of_a_checkpoint_ends_all_writing(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);

    (void)state;
    fault_vfs_fail_database_syncs(1);
    assert_int_equal(bench_do(bench, append_many, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, append_week, NULL), STORE_FAILED);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_queues_up_commits_with_one_sync),
        cmocka_unit_test(every_commit_is_synced),
        cmocka_unit_test(failed_sync_of_a_checkpoint_ends_all_writing),
    };

    fault_vfs_install();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
