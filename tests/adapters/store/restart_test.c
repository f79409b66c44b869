/* SPDX-License-Identifier: Apache-2.0 */
/* What a replica's clock is when its store is opened again, or goes on as another replica. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/ledger/stamp.h"
#include "tests/support/store_cases.h"

#define MINUTE INT64_C(60000)
#define HOUR (60 * MINUTE)
#define YEAR (365 * 24 * HOUR)

static bool keep_last(const Event *event, void *context)
{
    Event **last = context;

    event_free(*last);
    *last = event_copy(event);
    return true;
}

typedef struct {
    Bench *bench;
    Event *event; /* of the other */
    Stamp own;    /* of this replica's last event */
} Meeting;

static bool read_last(Tx *tx, void *context)
{
    tx_events(tx, "", keep_last, &((Meeting *)context)->event, "");
    return true;
}

static bool accept_event(Tx *tx, void *context)
{
    assert_int_equal(tx_accept(tx, ((Meeting *)context)->event), ACCEPT_NEW);
    return true;
}

static bool edit(Tx *tx, void *context)
{
    Meeting *meeting = context;
    Event *own = NULL;

    bench_append(tx, (void *)"2026-W10");
    tx_events(tx, "replica = ?1 ORDER BY seq DESC LIMIT 1", keep_last, &own, "t", tx_replica(tx));
    meeting->own = (Stamp){own->wall, own->logical};
    event_free(own);
    return true;
}

static void on_done(StoreStatus status, void *context)
{
    (void)context;
    assert_int_equal(status, STORE_OK);
}

static void run_at(Meeting *meeting, int64_t now_ms, StoreJob *job)
{
    store_submit(meeting->bench->store, now_ms, job, on_done, meeting);
    bench_run(meeting->bench);
}

/* An event that another replica stamped so much ahead of the morning, met that long after it. */
static Meeting meet(void **state, int64_t ahead_ms, int64_t met_ms)
{
    Meeting meeting = {.bench = bench_open(bench_sort(state))};
    Store *other = store_memory_new("00000000000000bb", BENCH_MORNING + ahead_ms);

    store_memory_look(other, read_last, &meeting);
    other->close(other);
    run_at(&meeting, BENCH_MORNING + met_ms, accept_event);
    return meeting;
}

static void restart(Bench *bench)
{
    if (bench->sort == BENCH_MEMORY) {
        bench->store = store_memory_crash(bench->store);
        return;
    }
    bench_shut(bench);
    bench_reopen(bench);
}

static void part(Meeting *meeting)
{
    event_free(meeting->event);
    bench_close(meeting->bench);
}

/* The other's clock goes five minutes before this one. */
static void an_edit_after_a_restart_comes_after_what_was_seen_before(void **state)
{
    Meeting meeting = meet(state, 5 * MINUTE, 0);

    restart(meeting.bench);
    run_at(&meeting, BENCH_MORNING, edit);
    assert_true(stamp_compare(meeting.own, (Stamp){meeting.event->wall, meeting.event->logical}) >
                0);
    part(&meeting);
}

static void a_stamp_of_next_year_counts_as_ten_minutes_after_a_restart_too(void **state)
{
    Meeting meeting = meet(state, YEAR, 0);

    restart(meeting.bench);
    run_at(&meeting, BENCH_MORNING, edit);
    assert_int_equal(meeting.own.wall, BENCH_MORNING + STAMP_AHEAD_MS);
    restart(meeting.bench);
    run_at(&meeting, BENCH_MORNING + HOUR, edit);
    assert_int_equal(meeting.own.wall, BENCH_MORNING + HOUR);
    part(&meeting);
}

/* Both clocks went a year ahead when they met; this one has been set right while the store was shut. */
static void what_was_met_under_a_wrong_clock_does_not_keep_it_wrong(void **state)
{
    Meeting meeting = meet(state, YEAR, YEAR);

    restart(meeting.bench);
    if (meeting.bench->sort != BENCH_MEMORY) {
        run_at(&meeting, BENCH_MORNING, edit);
        assert_true(meeting.own.wall <= BENCH_MORNING + STAMP_AHEAD_MS);
    }
    part(&meeting);
}

static Store *open_file(uv_loop_t *loop, const char *path, StoreMode mode)
{
    Store *store = NULL;
    char *why = NULL;

    if (store_sqlite_open(loop, path, mode, BENCH_REPLICA, BENCH_MORNING, &store, &why) != OPEN_OK)
        fail_msg("%s", why);
    return store;
}

static bool read_newest(Tx *tx, void *context)
{
    tx_events(tx, "", keep_last, context, "");
    return true;
}

static Event *renewed(StoreMode mode, int64_t now_ms)
{
    g_autofree char *folder = bench_folder();
    g_autofree char *path = g_build_filename(folder, "store.db", NULL);
    uv_loop_t *loop = uv_default_loop();
    Event *newest = NULL;
    char *why = NULL;

    Store *store = open_file(loop, path, mode);
    store->close(store);
    uv_run(loop, UV_RUN_DEFAULT);
    assert_int_equal(store_sqlite_renew(path, "00000000000000cc", now_ms, &why), OPEN_OK);
    store = open_file(loop, path, mode);
    store_submit(store, now_ms, read_newest, on_done, &newest);
    store->close(store);
    uv_run(loop, UV_RUN_DEFAULT);
    bench_remove(folder);
    return newest;
}

/* Nobody tells a restore what the made-up clock says. */
static void what_was_restored_under_a_made_up_clock_is_not_of_today(void **state)
{
    Event *live = renewed(STORE_LIVE, BENCH_MORNING + YEAR);
    Event *made_up = renewed(STORE_REHEARSAL, BENCH_MORNING + YEAR);

    (void)state;
    assert_string_equal(live->replica, "00000000000000cc");
    assert_int_equal(live->wall, BENCH_MORNING + YEAR);
    assert_string_equal(made_up->replica, "00000000000000cc");
    assert_int_equal(made_up->wall, BENCH_MORNING);
    event_free(live);
    event_free(made_up);
}

int main(void)
{
    static const BenchCase CASES[] = {
        {"an_edit_after_a_restart_comes_after_what_was_seen_before",
         an_edit_after_a_restart_comes_after_what_was_seen_before},
        {"a_stamp_of_next_year_counts_as_ten_minutes_after_a_restart_too",
         a_stamp_of_next_year_counts_as_ten_minutes_after_a_restart_too},
        {"what_was_met_under_a_wrong_clock_does_not_keep_it_wrong",
         what_was_met_under_a_wrong_clock_does_not_keep_it_wrong},
    };

    const struct CMUnitTest of_files[] = {
        cmocka_unit_test(what_was_restored_under_a_made_up_clock_is_not_of_today),
    };

    int failed = cmocka_run_group_tests(of_files, NULL, NULL);
    return failed + bench_cases(CASES, G_N_ELEMENTS(CASES));
}
