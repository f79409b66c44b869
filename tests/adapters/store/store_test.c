/* SPDX-License-Identifier: Apache-2.0 */
/* What a store promises, on the real ones and on their twin alike. A full disk of a database server and a failed write are
 * what it says of them (PostgreSQL, appendix A: 53100 disk_full, 58030 io_error). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "tests/support/fault_vfs.h"
#include "tests/support/pg_server.h"
#include "tests/support/store_cases.h"

static Bench *open_for(void **state)
{
    return bench_open(bench_sort(state));
}

static int events_in(Bench *bench)
{
    int count = -1;

    assert_int_equal(bench_do(bench, bench_count, &count), STORE_OK);
    return count;
}

static void break_device(Bench *bench, int times, StoreStatus status)
{
    if (bench->sort == BENCH_MEMORY)
        store_memory_fail(bench->store, times, status);
    else if (bench->sort == BENCH_POSTGRES)
        pg_server_break(bench->schema, status == STORE_FULL ? "53100" : "58030", times);
    else if (status == STORE_FULL)
        fault_vfs_fail_writes(times, SQLITE_FULL);
    else
        fault_vfs_fail_syncs(times);
}

typedef struct {
    int number;
    GArray *order;
    StoreStatus expected;
} Mark;

static void keep_order(StoreStatus status, void *context)
{
    Mark *mark = context;

    assert_int_equal(status, mark->expected);
    g_array_append_val(mark->order, mark->number);
}

static bool append_or_refuse(Tx *tx, void *context)
{
    const Mark *mark = context;
    g_autofree char *week = g_strdup_printf("2026-W%02d", mark->number);

    bench_append(tx, week);
    tx_set_meta(tx, "last", week);
    return mark->expected != STORE_UNDONE;
}

static void callbacks_come_in_order_and_one_undo_touches_no_other(void **state)
{
    Bench *bench = open_for(state);
    GArray *order = g_array_new(FALSE, FALSE, sizeof(int));
    Mark marks[20];

    for (int i = 0; i < 20; i++) {
        marks[i] = (Mark){
            .number = i, .order = order, .expected = i == 7 || i == 19 ? STORE_UNDONE : STORE_OK};
        bench_submit(bench, append_or_refuse, keep_order, &marks[i]);
    }
    assert_int_equal(bench->store->pending(bench->store), 20);
    bench_run(bench);
    assert_int_equal(order->len, 20);
    for (int i = 0; i < 20; i++)
        assert_int_equal(g_array_index(order, int, i), i);
    assert_int_equal(events_in(bench), 1 + 18);
    g_array_unref(order);
    bench_close(bench);
}

static bool find_undone(Tx *tx, void *context)
{
    g_autoptr(Row) kept = tx_get_text(tx, TABLE_DIGEST, "2026-W18");
    g_autoptr(Row) undone = tx_get_text(tx, TABLE_DIGEST, "2026-W19");
    g_autofree char *last = tx_meta(tx, "last");

    (void)context;
    assert_non_null(kept);
    assert_null(undone);
    assert_string_equal(last, "2026-W18");
    return true;
}

static void an_undone_job_leaves_no_event_row_or_local_row(void **state)
{
    Bench *bench = open_for(state);
    GArray *order = g_array_new(FALSE, FALSE, sizeof(int));
    Mark kept = {.number = 18, .order = order, .expected = STORE_OK};
    Mark undone = {.number = 19, .order = order, .expected = STORE_UNDONE};

    bench_submit(bench, append_or_refuse, keep_order, &kept);
    bench_submit(bench, append_or_refuse, keep_order, &undone);
    bench_run(bench);
    assert_int_equal(bench_do(bench, find_undone, NULL), STORE_OK);
    g_array_unref(order);
    bench_close(bench);
}

static void no_room_keeps_nothing_and_passes(void **state)
{
    Bench *bench = open_for(state);
    GArray *order = g_array_new(FALSE, FALSE, sizeof(int));
    Mark marks[3];

    break_device(bench, 1, STORE_FULL);
    for (int i = 0; i < 3; i++)
        marks[i] = (Mark){.number = i, .order = order, .expected = STORE_FULL};
    bench_submit(bench, append_or_refuse, keep_order, &marks[0]);
    bench_run(bench);
    assert_non_null(strstr(bench->store->problem(bench->store), "no room"));
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W30"), STORE_OK);
    assert_int_equal(events_in(bench), 2);
    g_array_unref(order);
    bench_close(bench);
}

typedef struct {
    bool writes; /* although it should not */
    int events;
    bool reading;
    StoreStatus status;
} Reading;

static bool count_and_write(Tx *tx, void *context)
{
    Reading *reading = context;

    reading->reading = tx_is_reading(tx);
    bench_count(tx, &reading->events);
    if (reading->writes) bench_append(tx, (void *)"2026-W44");
    return true;
}

static void end_reading(StoreStatus status, void *context)
{
    ((Reading *)context)->status = status;
}

static Reading read_in(Bench *bench)
{
    /* A database server refuses a write when it is made, a device when it is kept. */
    Reading reading = {
        .writes = bench->sort != BENCH_POSTGRES, .events = -1, .status = STORE_FAILED};

    store_read(bench->store, BENCH_MORNING, count_and_write, end_reading, &reading);
    bench_run(bench);
    return reading;
}

/* It is let look at what is there, and what it writes is not kept, nor taken for kept by those that come after it. */
static void without_room_what_only_reads_is_run(void **state)
{
    Bench *bench = open_for(state);

    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W40"), STORE_OK);
    break_device(bench, 40, STORE_FULL);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W41"), STORE_FULL);
    for (int i = 0; i < 2; i++) {
        Reading reading = read_in(bench);
        assert_int_equal(reading.status, STORE_UNDONE);
        assert_true(reading.reading);
        assert_int_equal(reading.events, 2);
        assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W42"), STORE_FULL);
    }
    break_device(bench, 0, STORE_FULL);
    Reading kept = read_in(bench);
    assert_int_equal(kept.status, STORE_OK);
    assert_false(kept.reading);
    assert_int_equal(events_in(bench), kept.writes ? 3 : 2);
    bench_close(bench);
}

static void failed_sync_ends_all_writing(void **state)
{
    Bench *bench = open_for(state);

    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W01"), STORE_OK);
    break_device(bench, 1, STORE_FAILED);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W02"), STORE_FAILED);
    assert_non_null(strstr(bench->store->problem(bench->store), "failed"));
    /* the device works again, and is not believed */
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W03"), STORE_FAILED);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W04"), STORE_FAILED);
    bench_close(bench);
}

typedef struct {
    Bench *bench;
    int left;
} Chain;

static bool append_one(Tx *tx, void *context)
{
    (void)context;
    return bench_append(tx, (void *)"2026-W05");
}

static void submit_next(StoreStatus status, void *context)
{
    Chain *chain = context;

    assert_int_equal(status, STORE_OK);
    if (--chain->left > 0) bench_submit(chain->bench, append_one, submit_next, chain);
}

static void a_callback_may_submit(void **state)
{
    Bench *bench = open_for(state);
    Chain chain = {.bench = bench, .left = 5};

    bench_submit(bench, append_one, submit_next, &chain);
    bench_run(bench);
    assert_int_equal(chain.left, 0);
    assert_int_equal(events_in(bench), 6);
    bench_close(bench);
}

static void closing_runs_what_is_queued(void **state)
{
    Bench *bench = open_for(state);
    Chain chain = {.bench = bench, .left = 3};

    bench_submit(bench, append_one, submit_next, &chain);
    bench_shut(bench);
    assert_int_equal(chain.left, 0);
    bench_close(bench);
}

static bool use_every_call(Tx *tx, void *context)
{
    g_autoptr(Row) due = row_new(TABLE_DUE);

    (void)context;
    for (int i = 0; i < 5; i++) {
        g_autofree char *key = g_strdup_printf("S%d", i);

        row_set_text(due, DUE_KIND, "nudge");
        row_set_text(due, DUE_KEY, key);
        row_set_int(due, DUE_AT, 100 - i);
        row_set_text(due, DUE_CLIENT, i % 2 == 0 ? "ADA" : NULL);
        tx_put(tx, due);
    }
    row_set_int(due, DUE_AT, 7);
    tx_put(tx, due);
    g_autoptr(GPtrArray) rows = tx_rows(
        tx, TABLE_DUE, "client = ?1 AND at > ?2 ORDER BY at LIMIT 5", "ti", "ADA", INT64_C(97));
    assert_int_equal(rows->len, 2);
    assert_string_equal(row_text(rows->pdata[0], DUE_KEY), "S2");
    g_autoptr(Row) found = tx_get(tx, due);
    assert_int_equal(row_int(found, DUE_AT), 7);
    assert_true(row_is_null(found, DUE_BODY));
    tx_delete(tx, due);
    assert_null(tx_get(tx, due));
    assert_int_equal(tx_change(tx, "DELETE FROM due WHERE at < ?1", "i", INT64_C(99)), 2);
    g_autoptr(GPtrArray) rest = tx_rows(tx, TABLE_DUE, "", "");
    assert_int_equal(rest->len, 2);
    return true;
}

static void rows_are_put_found_changed_and_removed(void **state)
{
    Bench *bench = open_for(state);

    assert_int_equal(bench_do(bench, use_every_call, NULL), STORE_OK);
    bench_close(bench);
}

static void count_inner(const TxResult *result, void *context)
{
    (void)result;
    ++*(int *)context;
}

typedef struct {
    Tx *tx;
    int inner;
} Nested;

#define ALL_WEEKS "SELECT week, at FROM digest"

static void select_again(const TxResult *result, void *context)
{
    Nested *nested = context;

    assert_int_equal(result->columns, 2);
    assert_true(result->integer[1] > 0);
    tx_select(nested->tx, ALL_WEEKS, count_inner, &nested->inner, "");
}

static bool select_inside_select(Tx *tx, void *context)
{
    Nested nested = {.tx = tx};

    (void)context;
    for (int i = 0; i < 3; i++) {
        g_autofree char *week = g_strdup_printf("2026-W%02d", i);
        bench_append(tx, week);
    }
    tx_select(tx, ALL_WEEKS, select_again, &nested, "");
    assert_int_equal(nested.inner, 9);
    return true;
}

static bool find_kept_among_undone(Tx *tx, void *context)
{
    g_autofree char *last = tx_meta(tx, "last");

    for (int i = 0; i < 5; i++) {
        g_autofree char *week = g_strdup_printf("2026-W%02d", i);
        g_autoptr(Row) row = tx_get_text(tx, TABLE_DIGEST, week);
        assert_int_equal(row != NULL, i == 2 || i == 4);
    }
    assert_string_equal(last, "2026-W04");
    *(int *)context = 1;
    return true;
}

static void jobs_undone_at_the_head_of_a_commit_take_nothing_with_them(void **state)
{
    Bench *bench = open_for(state);
    GArray *order = g_array_new(FALSE, FALSE, sizeof(int));
    Mark marks[5];
    int found = 0;

    for (int i = 0; i < 5; i++) {
        marks[i] = (Mark){
            .number = i, .order = order, .expected = i == 2 || i == 4 ? STORE_OK : STORE_UNDONE};
        bench_submit(bench, append_or_refuse, keep_order, &marks[i]);
    }
    bench_run(bench);
    assert_int_equal(order->len, 5);
    assert_int_equal(events_in(bench), 1 + 2);
    assert_int_equal(bench_do(bench, find_kept_among_undone, &found), STORE_OK);
    assert_int_equal(found, 1);
    g_array_unref(order);
    bench_close(bench);
}

static void a_select_may_run_inside_itself(void **state)
{
    Bench *bench = open_for(state);

    assert_int_equal(bench_do(bench, select_inside_select, NULL), STORE_OK);
    bench_close(bench);
}

int main(void)
{
    static const BenchCase CASES[] = {
        {"callbacks_come_in_order_and_one_undo_touches_no_other",
         callbacks_come_in_order_and_one_undo_touches_no_other},
        {"an_undone_job_leaves_no_event_row_or_local_row",
         an_undone_job_leaves_no_event_row_or_local_row},
        {"jobs_undone_at_the_head_of_a_commit_take_nothing_with_them",
         jobs_undone_at_the_head_of_a_commit_take_nothing_with_them},
        {"no_room_keeps_nothing_and_passes", no_room_keeps_nothing_and_passes},
        {"without_room_what_only_reads_is_run", without_room_what_only_reads_is_run},
        {"failed_sync_ends_all_writing", failed_sync_ends_all_writing},
        {"a_callback_may_submit", a_callback_may_submit},
        {"closing_runs_what_is_queued", closing_runs_what_is_queued},
        {"rows_are_put_found_changed_and_removed", rows_are_put_found_changed_and_removed},
        {"a_select_may_run_inside_itself", a_select_may_run_inside_itself},
    };

    fault_vfs_install();
    return bench_cases(CASES, G_N_ELEMENTS(CASES));
}
