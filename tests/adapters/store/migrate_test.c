/* SPDX-License-Identifier: Apache-2.0 */
/* A store of an older osier opens with everything it held, in a file and on a PostgreSQL server. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <string.h>

#include "adapters/store/store_postgres.h"
#include "tests/support/pg_server.h"
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
    assert_string_equal(version, "11");
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

/* --- on a server --- */

static char *read_sql(int version)
{
    g_autofree char *path = g_strdup_printf("tests/adapters/store/version_%d.sql", version);
    char *sql = NULL;

    assert_true(g_file_get_contents(path, &sql, NULL, NULL));
    return sql;
}

/* SQLite's words for tables and bytes as PostgreSQL's. No schema was ever of version 1: it is the steps that are tried, which
 * later ones are made of. */
static char *translate(char *sql)
{
    static const char *const WORDS[][2] = {
        {"(?m)^(PRAGMA|BEGIN|COMMIT).*$", ""},
        {" STRICT(, WITHOUT ROWID)?;", ";"},
        {"\\bINTEGER\\b", "BIGINT"},
        {"\\bREAL\\b", "DOUBLE PRECISION"},
        {"\\bBLOB\\b", "BYTEA"},
        {"\\bTEXT\\b", "TEXT COLLATE \"C\""},
        {"X'([0-9A-F]*)'", "'\\\\x\\1'"},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++) {
        g_autoptr(GRegex) word = g_regex_new(WORDS[i][0], 0, 0, NULL);
        char *next = g_regex_replace(word, sql, -1, 0, WORDS[i][1], 0, NULL);

        assert_non_null(next);
        g_free(sql);
        sql = next;
    }
    return sql;
}

static Bench *open_schema_of(int version)
{
    Bench *bench = g_new0(Bench, 1);
    char *sql = read_sql(version);

    bench->sort = BENCH_POSTGRES;
    bench->schema = pg_server_schema();
    uv_loop_init(&bench->loop);
    if (version == 1) sql = translate(sql);
    g_autofree char *all = g_strdup_printf("CREATE SCHEMA %s; SET search_path = %s; %s",
                                           bench->schema, bench->schema, sql);
    g_free(pg_server_run(all));
    g_free(sql);
    return bench;
}

static void is_sound(const Bench *bench, int64_t expected)
{
    const PostgresPlace place = {.connect = pg_server_connect(), .schema = bench->schema};
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    assert_int_equal(
        store_place_check(&(StorePlace){.schema = &place}, false, findings, &events, &why),
        OPEN_OK);
    assert_int_equal(findings->len, 0);
    assert_int_equal(events, expected);
}

static void come_forward(int version)
{
    Bench *bench = open_schema_of(version);
    int events = 0;

    is_sound(bench, 8);
    bench_reopen(bench);
    assert_int_equal(bench_do(bench, look, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W10"), STORE_OK);
    assert_int_equal(bench_do(bench, bench_count, &events), STORE_OK);
    assert_int_equal(events, 9);
    bench_shut(bench);
    is_sound(bench, 9);
    bench_close(bench);
}

static void a_schema_of_version_8_comes_forward(void **state)
{
    (void)state;
    come_forward(8);
}

static void every_step_works_on_a_server_too(void **state)
{
    (void)state;
    come_forward(1);
}

/* Columns, and indexes with theirs, of every table, in order, without the schema's name. Where a column stands in its table
 * means nothing: each is named. */
static char *shape_of(const char *schema)
{
    g_autofree char *sql = g_strdup_printf(
        "SELECT string_agg(line, E'\\n' ORDER BY line) FROM ("
        "SELECT concat_ws(' ', table_name, column_name, data_type, is_nullable, collation_name) "
        "FROM information_schema.columns WHERE table_schema = '%s' "
        "UNION ALL SELECT replace(indexdef, '%s.', '') FROM pg_indexes WHERE schemaname = '%s') "
        "AS shape (line)",
        schema, schema, schema);

    return pg_server_run(sql);
}

static void a_migrated_schema_has_the_shape_of_a_new_one(void **state)
{
    Bench *old = open_schema_of(8);
    Bench *new = bench_open(BENCH_POSTGRES);
    g_autofree char *of_new = shape_of(new->schema);
    g_autofree char *of_old = NULL;

    (void)state;
    bench_reopen(old);
    of_old = shape_of(old->schema);
    assert_string_equal(of_old, of_new);
    bench_close(old);
    bench_close(new);
}

/* A step that fails in the midst leaves what was there, and another try does. */
static void a_schema_that_cannot_come_forward_stays_as_it_was(void **state)
{
    Bench *bench = open_schema_of(8);
    const PostgresPlace place = {.connect = pg_server_connect(), .schema = bench->schema};
    g_autofree char *block =
        g_strdup_printf("CREATE TABLE %s.card (in_the_way TEXT)", bench->schema);
    g_autofree char *clear = g_strdup_printf("DROP TABLE %s.card", bench->schema);
    g_autofree char *before = NULL;
    g_autofree char *why = NULL;

    (void)state;
    g_free(pg_server_run(block));
    before = shape_of(bench->schema);
    assert_int_equal(store_postgres_open(&bench->loop, &place, STORE_LIVE, BENCH_REPLICA,
                                         BENCH_MORNING, &bench->store, &why),
                     OPEN_NO_STORE);
    assert_non_null(strstr(why, "card"));
    g_autofree char *after = shape_of(bench->schema);
    assert_string_equal(after, before);
    g_free(pg_server_run(clear));
    bench_reopen(bench);
    assert_int_equal(bench_do(bench, look, NULL), STORE_OK);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(version_1_comes_forward),
        cmocka_unit_test(a_migrated_store_is_sound),
        cmocka_unit_test(a_migrated_store_has_the_indexes_of_a_new_one),
        cmocka_unit_test(a_schema_of_version_8_comes_forward),
        cmocka_unit_test(every_step_works_on_a_server_too),
        cmocka_unit_test(a_migrated_schema_has_the_shape_of_a_new_one),
        cmocka_unit_test(a_schema_that_cannot_come_forward_stays_as_it_was),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
