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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crash_keeps_commits_and_loses_the_queue),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
