/* SPDX-License-Identifier: Apache-2.0 */
/* A store of an older osier opens with everything it held. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "tests/support/store_bench.h"

static void make_version_1(const char *path)
{
    g_autofree char *sql = NULL;
    char *error = NULL;
    sqlite3 *db = NULL;

    assert_true(g_file_get_contents("tests/adapters/store/version_1.sql", &sql, NULL, NULL));
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    sqlite3_exec(db, sql, NULL, NULL, &error);
    if (error != NULL) fail_msg("%s", error);
    sqlite3_close(db);
}

static Bench *open_version_1(void)
{
    Bench *bench = g_new0(Bench, 1);

    bench->sort = BENCH_SQLITE;
    bench->folder = bench_folder();
    bench->path = g_build_filename(bench->folder, "store.db", NULL);
    uv_loop_init(&bench->loop);
    make_version_1(bench->path);
    return bench;
}

static bool look(Tx *tx, void *context)
{
    g_autofree char *version = tx_meta(tx, "schema");
    g_autoptr(Row) alert = tx_get_text(tx, TABLE_ALERT, "3F8A");
    g_autoptr(Row) session = tx_get_text(tx, TABLE_SESSION, "S1");
    g_autoptr(GPtrArray) passes = tx_rows(tx, TABLE_PASS, "alert = ?1 ORDER BY round", "t", "3F8A");
    g_autoptr(GPtrArray) due = tx_rows(tx, TABLE_DUE, "", "");

    (void)context;
    assert_string_equal(version, "9");
    assert_int_equal(row_int(alert, ALERT_PASSED), 2);
    assert_int_equal(passes->len, 2);
    assert_string_equal(row_text(passes->pdata[0], PASS_TO), "J. Lindqvist");
    assert_string_equal(row_text(session, SESSION_STATE), "done");
    assert_int_equal(due->len, 1); /* local tables stay */
    return true;
}

static void version_1_comes_forward(void **state)
{
    Bench *bench = open_version_1();
    int events = 0;

    (void)state;
    bench_reopen(bench);
    assert_int_equal(bench_do(bench, look, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W10"), STORE_OK);
    assert_int_equal(bench_do(bench, bench_count, &events), STORE_OK);
    assert_int_equal(events, 9);
    bench_close(bench);
}

static void a_migrated_store_is_sound(void **state)
{
    Bench *bench = open_version_1();
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    (void)state;
    assert_int_equal(store_sqlite_check(bench->path, false, findings, &events, &why), OPEN_OK);
    assert_int_equal(findings->len, 0);
    assert_int_equal(events, 8);
    bench_close(bench);
}

/* Every index with its columns, in order. */
static void add_index(const TxResult *result, void *context)
{
    g_string_append_printf(context, "%s\n", result->text[0]);
}

static bool list_indexes(Tx *tx, void *context)
{
    tx_select(tx,
              "SELECT sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL ORDER BY sql",
              add_index, context, "");
    return true;
}

static void a_migrated_store_has_the_indexes_of_a_new_one(void **state)
{
    Bench *old = open_version_1();
    Bench *new = bench_open(BENCH_SQLITE);
    g_autoptr(GString) of_old = g_string_new(NULL);
    g_autoptr(GString) of_new = g_string_new(NULL);

    (void)state;
    bench_reopen(old);
    assert_int_equal(bench_do(old, list_indexes, of_old), STORE_OK);
    assert_int_equal(bench_do(new, list_indexes, of_new), STORE_OK);
    assert_string_equal(of_old->str, of_new->str);
    bench_close(old);
    bench_close(new);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(version_1_comes_forward),
        cmocka_unit_test(a_migrated_store_is_sound),
        cmocka_unit_test(a_migrated_store_has_the_indexes_of_a_new_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
