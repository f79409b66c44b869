/* SPDX-License-Identifier: Apache-2.0 */
/* What only the twin can do: crash and fail to order. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/store_memory.h"
#include "adapters/store/store_sqlite.h"

#define REPLICA "00000000000000aa"
#define MORNING INT64_C(1772438400000)

static bool stop_client(Tx *tx, void *context)
{
    tx_append(tx, "client.stop", context, "client", NULL,
              json_pack("{s:I,s:s}", "at", (json_int_t)tx_now(tx), "why", "STOP"));
    return true;
}

static bool count_bars(Tx *tx, void *context)
{
    g_autoptr(GPtrArray) bars = tx_rows(tx, TABLE_BAR, "kind = ?1", "t", "stop");

    *(int *)context = (int)bars->len;
    return true;
}

static int bars_of(Store *store)
{
    int count = -1;

    store_memory_look(store, count_bars, &count);
    return count;
}

static void keep_status(StoreStatus status, void *context)
{
    (void)context;
    assert_int_equal(status, STORE_OK);
}

static void crash_keeps_commits_and_loses_the_queue(void **state)
{
    Store *store = store_memory_new(REPLICA, MORNING);

    (void)state;
    store_submit(store, MORNING, stop_client, keep_status, (void *)"ADA");
    assert_int_equal(store->pending(store), 1);
    assert_int_equal(store_memory_pump(store), 1);
    store_submit(store, MORNING, stop_client, keep_status, (void *)"BOB");
    store = store_memory_crash(store);
    assert_int_equal(store->pending(store), 0);
    assert_int_equal(bars_of(store), 1);
    store_submit(store, MORNING, stop_client, keep_status, (void *)"CAT");
    store_memory_pump(store);
    assert_int_equal(bars_of(store), 2);
    store->close(store);
}

/* --- the database goes away and comes back --- */

typedef struct {
    Event *event;
    StoreStatus status;
    int losses;
} Visit;

static bool note_job(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "clinic.set", "clinic", "osier", NULL,
              json_pack("{s:{s:s}}", "fields", "a", "b"));
    return true;
}

static bool keep_last(const Event *event, void *context)
{
    Visit *visit = context;

    event_free(visit->event);
    visit->event = event_copy(event);
    return true;
}

static bool read_job(Tx *tx, void *context)
{
    tx_events(tx, "", keep_last, context, "");
    return true;
}

static bool accept_job(Tx *tx, void *context)
{
    const Visit *visit = context;

    assert_int_equal(tx_accept(tx, visit->event), ACCEPT_NEW);
    return true;
}

static void note_status(StoreStatus status, void *context)
{
    ((Visit *)context)->status = status;
}

static StoreStatus run_at(Store *store, int64_t now_ms, StoreJob *job, Visit *visit)
{
    store_submit(store, now_ms, job, note_status, visit);
    store_memory_pump(store);
    return visit->status;
}

static bool again_job(Tx *tx, void *context)
{
    Visit *visit = context;
    Accepted accepted = tx_accept(tx, visit->event);

    assert_int_equal(accepted, tx_is_lost(tx) ? ACCEPT_GAP : ACCEPT_KNOWN);
    if (tx_is_lost(tx)) visit->losses++;
    return true;
}

/* An entry that is here already, and cannot be compared because the database goes away, is no other entry under its number. */
static void away_while_an_entry_is_compared_is_no_copied_store(void **state)
{
    Store *store = store_memory_new(REPLICA, MORNING);
    Store *other = store_memory_new("00000000000000bb", MORNING);
    Visit visit = {0};

    (void)state;
    assert_int_equal(run_at(other, MORNING, read_job, &visit), STORE_OK);
    assert_int_equal(run_at(store, MORNING, accept_job, &visit), STORE_OK);
    for (int n = 1; n <= 8; n++) {
        store_memory_lose(store, n);
        run_at(store, MORNING, again_job, &visit);
        store_memory_lose(store, 0);
        assert_int_equal(run_at(store, MORNING, note_job, &visit), STORE_OK);
    }
    assert_true(visit.losses > 0);
    event_free(visit.event);
    store->close(store);
    other->close(other);
}

/* Before the first job after a loss the store looks whether it is as it was left; that it goes away again meanwhile says nothing of it. */
static void away_again_while_it_is_looked_over_is_not_broken(void **state)
{
    Store *store = store_memory_new(REPLICA, MORNING);
    Visit visit = {0};

    (void)state;
    for (int n = 1; n <= 12; n++) {
        store_memory_lose(store, 1);
        assert_int_equal(run_at(store, MORNING, note_job, &visit), STORE_AWAY);
        store_memory_lose(store, n);
        StoreStatus status = run_at(store, MORNING, note_job, &visit);
        assert_true(status == STORE_AWAY || !store_memory_has_lost(store));
        store_memory_lose(store, 0);
        assert_int_equal(run_at(store, MORNING, note_job, &visit), STORE_OK);
    }
    store->close(store);
}

/* What another replica wrote a minute ahead has moved this one's clock beyond its own last event: when the database is there again the
 * store is as it was left all the same. */
static void away_after_a_visit_is_not_broken(void **state)
{
    Store *store = store_memory_new(REPLICA, MORNING);
    Store *other = store_memory_new("00000000000000bb", MORNING + 60000);
    Visit visit = {0};

    (void)state;
    assert_int_equal(run_at(other, MORNING + 60000, read_job, &visit), STORE_OK);
    assert_int_equal(run_at(store, MORNING, accept_job, &visit), STORE_OK);
    for (int n = 1; n <= 3; n++) {
        store_memory_lose(store, n);
        assert_int_equal(run_at(store, MORNING, note_job, &visit), STORE_AWAY);
        assert_int_equal(run_at(store, MORNING, note_job, &visit), STORE_OK);
    }
    event_free(visit.event);
    store->close(store);
    other->close(other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crash_keeps_commits_and_loses_the_queue),
        cmocka_unit_test(away_after_a_visit_is_not_broken),
        cmocka_unit_test(away_again_while_it_is_looked_over_is_not_broken),
        cmocka_unit_test(away_while_an_entry_is_compared_is_no_copied_store),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
