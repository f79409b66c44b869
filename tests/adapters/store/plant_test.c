/* SPDX-License-Identifier: Apache-2.0 */
/* One row too many, too few or different in any table that is derived, in any of its columns: `osier check` tells it by name. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "tests/support/two_replicas.h"

static void change(const Bench *bench, const char *sql)
{
    sqlite3 *db = NULL;
    char *error = NULL;

    assert_int_equal(sqlite3_open(bench->path, &db), SQLITE_OK);
    sqlite3_exec(db, sql, NULL, NULL, &error);
    if (error != NULL) fail_msg("%s: %s", sql, error);
    if (sqlite3_changes(db) != 1) fail_msg("%s: changes %d rows", sql, sqlite3_changes(db));
    sqlite3_close(db);
}

static char *columns(const Table *table, int first, int last)
{
    GString *list = g_string_new(NULL);

    for (int i = first; i < last; i++)
        g_string_append_printf(list, "%s\"%s\"", i > first ? ", " : "", table->column[i].name);
    return g_string_free(list, FALSE);
}

/* "WHERE (keys) IN (those of one row)" */
static char *one_row(const Table *table)
{
    g_autofree char *keys = columns(table, 0, table->keys);

    return g_strdup_printf("WHERE (%s) IN (SELECT %s FROM %s LIMIT 1 OFFSET (SELECT count(*) / 2 "
                           "FROM %s))",
                           keys, keys, table->name, table->name);
}

static char *other_value(const Column *column)
{
    switch (column->type) {
    case COLUMN_TEXT: return g_strdup_printf("coalesce(\"%s\", '') || 'x'", column->name);
    case COLUMN_INTEGER: return g_strdup_printf("coalesce(\"%s\", 0) + 1", column->name);
    case COLUMN_REAL: return g_strdup_printf("coalesce(\"%s\", 0) + 0.5", column->name);
    }
    g_assert_not_reached();
}

/* The store as it was, with one change behind osier's back: one finding, which names the table. */
static void expect_told(const Bench *bench, GBytes *sound, const Table *table, const char *sql,
                        const char *how)
{
    gsize size;
    const char *bytes = g_bytes_get_data(sound, &size);
    g_autofree char *begin = g_strdup_printf("table %s: ", table->name);

    assert_true(g_file_set_contents(bench->path, bytes, (gssize)size, NULL));
    change(bench, sql);
    g_autoptr(GPtrArray) findings = bench_check(bench);
    if (findings->len == 1 && g_str_has_prefix(findings->pdata[0], begin) &&
        g_str_has_suffix(findings->pdata[0], how))
        return;
    for (guint i = 0; i < findings->len; i++)
        print_error("%s\n", (char *)findings->pdata[i]);
    fail_msg("%s: %u findings, not one of table %s: %s", sql, findings->len, table->name, how);
}

static void plant_in(const Bench *bench, GBytes *sound, const Table *table)
{
    g_autofree char *one = one_row(table);
    g_autofree char *rest = columns(table, 1, table->columns);
    g_autofree char *lost = g_strdup_printf("DELETE FROM %s %s", table->name, one);
    g_autofree char *more = g_strdup_printf(
        "INSERT INTO %s (\"%s\", %s) SELECT \"%s\" || 'x', %s FROM %s %s", table->name,
        table->column[0].name, rest, table->column[0].name, rest, table->name, one);

    expect_told(bench, sound, table, lost, "missing, though events give it");
    expect_told(bench, sound, table, more, "no event gives this row");
    for (int i = table->keys; i < table->columns; i++) {
        g_autofree char *other = other_value(&table->column[i]);
        g_autofree char *differs = g_strdup_printf("UPDATE %s SET \"%s\" = %s %s", table->name,
                                                   table->column[i].name, other, one);
        expect_told(bench, sound, table, differs, "differs from what the events give");
    }
}

static void count_row(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

static bool count_full(Tx *tx, void *context)
{
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        g_autofree char *sql = g_strconcat("SELECT count(*) > 0 FROM ", table_of(id)->name, NULL);
        int64_t full = 0;
        if (table_of(id)->local) continue;
        tx_select(tx, sql, count_row, &full, "");
        *(int *)context += full == 0;
    }
    return true;
}

/* The first history that gives a row of every table. */
static TwoReplicas live_it_all(bool apart)
{
    for (guint32 seed = 1; seed < 100; seed++) {
        TwoReplicas two = two_replicas_new(seed, apart);
        int empty = 0;

        two_replicas_live(&two);
        bench_reopen(two.bench);
        assert_int_equal(bench_do(two.bench, count_full, &empty), STORE_OK);
        bench_shut(two.bench);
        if (empty == 0) {
            print_message("seed %u\n", seed);
            return two;
        }
        two_replicas_free(&two);
    }
    fail_msg("no history gives a row of every table");
    g_assert_not_reached();
}

static void plant_in_all(bool apart)
{
    TwoReplicas two = live_it_all(apart);
    g_autoptr(GPtrArray) none = bench_check(two.bench);
    char *bytes;
    gsize size;

    assert_int_equal(none->len, 0);
    assert_true(g_file_get_contents(two.bench->path, &bytes, &size, NULL));
    g_autoptr(GBytes) sound = g_bytes_new_take(bytes, size);
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (!table_of(id)->local) plant_in(two.bench, sound, table_of(id));
    two_replicas_free(&two);
}

static void one_row_that_is_wrong_is_told_in_every_table(void **state)
{
    (void)state;
    plant_in_all(true);
}

static void and_where_events_name_what_is_anothers(void **state)
{
    (void)state;
    plant_in_all(false);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_row_that_is_wrong_is_told_in_every_table),
        cmocka_unit_test(and_where_events_name_what_is_anothers),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
