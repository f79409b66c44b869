/* SPDX-License-Identifier: Apache-2.0 */
/* What is found by its key is what stands in the table, whatever was put, changed, taken out, asked for ahead, undone or lost
 * before: on a server rows are kept in memory. Seeds are printed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/ledger/row.h"
#include "tests/support/pg_server.h"
#include "tests/support/store_bench.h"

#define KEYS 12

static const char *const GATEWAY = "texts";

static char *key_text(int number)
{
    /* One is too long to be kept, one cannot be one of a list. */
    if (number == 0) return g_strnfill(300, 'k');
    return number == 1 ? g_strdup("a\x1f"
                                  "b")
                       : g_strdup_printf("key %d", number);
}

static Row *message_row(int number, GRand *random)
{
    static const char *const TEXTS[] = {"", "Time to stretch.", "\xc3\x89lo\xc3\xafse",
                                        "half a \xc3", NULL};
    g_autofree char *id = key_text(number);
    g_autofree char *much = g_strnfill(6000, 'm');
    Row *row = row_new(TABLE_OUTBOX);
    int text = g_rand_int_range(random, 0, 6);

    row_set_text(row, OUTBOX_ID, id);
    row_set_text(row, OUTBOX_TEXT, text < 5 ? TEXTS[text] : much);
    row_set_int(row, OUTBOX_AT, g_rand_int_range(random, 0, 5));
    return row;
}

static Row *receipt_row(int number, GRand *random)
{
    g_autofree char *id = key_text(number);
    Row *row = row_new(TABLE_RECEIPT);

    row_set_text(row, RECEIPT_GATEWAY, GATEWAY);
    row_set_text(row, RECEIPT_GATEWAY_ID, id);
    row_set_int(row, RECEIPT_AT, g_rand_int_range(random, 0, 5));
    return row;
}

static char *line_of(const Row *row)
{
    GString *line = g_string_new(NULL);

    if (row != NULL) row_append_line(row, line);
    return g_string_free(line, FALSE);
}

static void expect_one(Tx *tx, const Row *key, TableId table, int column)
{
    g_autoptr(GPtrArray) all = tx_rows(tx, table, "", "");
    g_autoptr(Row) found = tx_get(tx, key);
    const Row *stands = NULL;

    for (guint i = 0; i < all->len; i++)
        if (strcmp(row_text(all->pdata[i], column), row_text(key, column)) == 0)
            stands = all->pdata[i];
    g_autofree char *got = line_of(found);
    g_autofree char *wanted = line_of(stands);
    assert_string_equal(got, wanted);
}

static void expect_all(Tx *tx, GRand *random)
{
    for (int i = 0; i < KEYS; i++) {
        g_autoptr(Row) message = message_row(i, random);
        g_autoptr(Row) receipt = receipt_row(i, random);
        expect_one(tx, message, TABLE_OUTBOX, OUTBOX_ID);
        expect_one(tx, receipt, TABLE_RECEIPT, RECEIPT_GATEWAY_ID);
    }
}

static void look_ahead(Tx *tx, GRand *random)
{
    g_autoptr(GPtrArray) keys = g_ptr_array_new_with_free_func(g_free);

    for (int i = 0; i < KEYS; i++)
        if (g_rand_boolean(random)) g_ptr_array_add(keys, key_text(i));
    g_ptr_array_add(keys, NULL);
    tx_fetch(tx, TABLE_OUTBOX, NULL, keys);
    tx_fetch(tx, TABLE_RECEIPT, GATEWAY, keys);
}

static void change_one(Tx *tx, const Row *key)
{
    g_autoptr(Row) row = tx_get(tx, key);

    if (row == NULL) return;
    row_set_int(row, OUTBOX_ATTEMPTS, row_int(row, OUTBOX_ATTEMPTS) + 1);
    tx_put(tx, row);
}

static void do_something(Tx *tx, GRand *random)
{
    int number = g_rand_int_range(random, 0, KEYS);
    g_autoptr(Row) message = message_row(number, random);
    g_autoptr(Row) receipt = receipt_row(number, random);

    switch (g_rand_int_range(random, 0, 8)) {
    case 0: tx_put(tx, message); break;
    case 1: tx_put(tx, receipt); break;
    case 2: tx_delete(tx, message); break;
    case 3: tx_delete(tx, receipt); break;
    case 4: change_one(tx, message); break;
    case 5: look_ahead(tx, random); break;
    case 6: tx_change(tx, "UPDATE outbox SET at = at + 1 WHERE at < ?1", "i", (int64_t)2); break;
    default: row_free(tx_get(tx, g_rand_boolean(random) ? message : receipt));
    }
}

typedef struct {
    GRand *random;
    bool kept;
    bool breaks;
} Storm;

static bool storm_job(Tx *tx, void *context)
{
    Storm *storm = context;
    int n = g_rand_int_range(storm->random, 1, 12);

    for (int i = 0; i < n; i++)
        do_something(tx, storm->random);
    if (g_rand_boolean(storm->random)) expect_all(tx, storm->random);
    if (storm->breaks) bench_append(tx, (void *)"2026-W10");
    storm->kept = g_rand_int_range(storm->random, 0, 4) > 0;
    return storm->kept;
}

static bool compare_job(Tx *tx, void *context)
{
    expect_all(tx, context);
    return true;
}

/* Now and then the server says that it cannot write, and all of the transaction is lost. */
static void weather(BenchSort sort, int seeds)
{
    for (int seed = 1; seed <= seeds; seed++) {
        Bench *bench = bench_open(sort);
        Storm storm = {.random = g_rand_new_with_seed((guint32)seed)};

        print_message("seed %d\n", seed);
        for (int i = 0; i < 40; i++) {
            storm.breaks = sort == BENCH_POSTGRES && i % 7 == 3;
            if (storm.breaks) pg_server_break(bench->schema, "53100", 1);
            StoreStatus status = bench_do(bench, storm_job, &storm);
            assert_int_equal(status, storm.breaks ? STORE_FULL
                                     : storm.kept ? STORE_OK
                                                  : STORE_UNDONE);
            if (storm.breaks) pg_server_break(bench->schema, "53100", 0);
            assert_int_equal(bench_do(bench, compare_job, storm.random), STORE_OK);
        }
        g_rand_free(storm.random);
        bench_close(bench);
    }
}

static void rows_are_what_the_tables_say(void **state)
{
    (void)state;
    weather(BENCH_MEMORY, 20);
}

static void rows_on_a_server_too(void **state)
{
    (void)state;
    weather(BENCH_POSTGRES, 6);
}

/* More than are kept. */
static bool many_job(Tx *tx, void *context)
{
    GRand *random = context;

    for (int i = 0; i < 10000; i++) {
        g_autoptr(Row) row = message_row(2 + i, random);
        row_free(tx_get(tx, row));
        tx_put(tx, row);
    }
    for (int i = 0; i < 10000; i += 97) {
        g_autoptr(Row) key = message_row(2 + i, random);
        g_autoptr(Row) row = tx_get(tx, key);
        assert_non_null(row);
    }
    return true;
}

static void more_rows_than_are_kept_are_all_there(void **state)
{
    Bench *bench = bench_open(BENCH_POSTGRES);
    GRand *random = g_rand_new_with_seed(1);

    (void)state;
    assert_int_equal(bench_do(bench, many_job, random), STORE_OK);
    g_rand_free(random);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_are_what_the_tables_say),
        cmocka_unit_test(rows_on_a_server_too),
        cmocka_unit_test(more_rows_than_are_kept_are_all_there),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
