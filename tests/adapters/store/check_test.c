/* SPDX-License-Identifier: Apache-2.0 */
/* What `osier check` finds in a store that was changed behind osier's back, and what a rebuild
 * mends. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <unistd.h>

#include "tests/support/store_bench.h"

static bool live_a_day(Tx *tx, void *context)
{
    json_int_t at = (json_int_t)tx_now(tx);

    (void)context;
    for (int i = 0; i < 40; i++) {
        g_autofree char *client = g_strdup_printf("ADA%d", i % 5);
        g_autofree char *session = g_strdup_printf("S%d", i);

        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s,s:i}}", "fields", "name", client, "age", i));
        tx_append(tx, "session.asked", client, "osier", NULL,
                  json_pack("{s:s,s:s,s:i,s:I}", "session", session, "date", "2026-03-02", "slot",
                            1, "at", at));
        tx_append(tx, "report.made", client, "client", NULL,
                  json_pack("{s:s,s:s,s:i,s:s,s:I}", "session", session, "done", "yes", "intensity",
                            4, "pain", "0", "at", at));
    }
    return true;
}

/* A store with 121 events, closed. */
static Bench *make_store(void)
{
    Bench *bench = bench_open(BENCH_SQLITE);

    assert_int_equal(bench_do(bench, live_a_day, NULL), STORE_OK);
    bench_shut(bench);
    return bench;
}

static GPtrArray *check(Bench *bench, bool rebuild)
{
    GPtrArray *findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    assert_int_equal(store_sqlite_check(bench->path, rebuild, findings, &events, &why), OPEN_OK);
    return findings;
}

static void change(Bench *bench, const char *sql)
{
    sqlite3 *db = NULL;
    char *error = NULL;

    assert_int_equal(sqlite3_open(bench->path, &db), SQLITE_OK);
    sqlite3_exec(db, sql, NULL, NULL, &error);
    if (error != NULL) fail_msg("%s: %s", sql, error);
    sqlite3_close(db);
}

static void expect_finding(GPtrArray *findings, const char *begin)
{
    for (guint i = 0; i < findings->len; i++)
        if (g_str_has_prefix(findings->pdata[i], begin)) return;
    for (guint i = 0; i < findings->len; i++)
        print_error("%s\n", (char *)findings->pdata[i]);
    fail_msg("no finding begins with: %s", begin);
}

static void expect_after(const char *sql, const char *begin)
{
    Bench *bench = make_store();

    change(bench, sql);
    g_autoptr(GPtrArray) findings = check(bench, false);
    expect_finding(findings, begin);
    bench_close(bench);
}

static void an_untouched_store_is_sound(void **state)
{
    Bench *bench = make_store();
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    (void)state;
    assert_int_equal(store_sqlite_check(bench->path, false, findings, &events, &why), OPEN_OK);
    assert_int_equal(events, 121);
    assert_int_equal(findings->len, 0);
    bench_close(bench);
}

#define EVENT_50 "event " BENCH_REPLICA ":50: changed"

static void a_changed_event_is_found_in_every_field(void **state)
{
    static const char *const CHANGES[] = {
        "body = replace(body, '}', ' }')",
        "wall = wall + 1",
        "logical = logical + 1",
        "kind = 'report.made '",
        "subject = 'ADA'",
        "author = 'someone'",
        "base = 'x'",
        "salt = zeroblob(16)",
        "body_hash = zeroblob(32)",
        "digest = zeroblob(32)",
        "digest = zeroblob(3)",
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CHANGES); i++) {
        g_autofree char *sql = g_strdup_printf("UPDATE event SET %s WHERE seq = 50", CHANGES[i]);
        expect_after(sql, EVENT_50);
    }
}

static void a_missing_event_is_found(void **state)
{
    (void)state;
    expect_after("DELETE FROM event WHERE seq = 50", "event " BENCH_REPLICA ":50: missing");
}

static void a_lost_last_event_shows_in_the_tables(void **state)
{
    (void)state;
    expect_after("DELETE FROM event WHERE seq = 121",
                 "table report: " BENCH_REPLICA ":121: no event gives");
}

static void a_changed_derived_row_is_found_and_rebuilt(void **state)
{
    static const struct {
        const char *sql, *finding;
    } CHANGES[] = {
        {"UPDATE session SET state = 'not' WHERE id = 'S3'", "table session: S3: differs"},
        {"DELETE FROM report WHERE id = '" BENCH_REPLICA ":4'",
         "table report: " BENCH_REPLICA ":4: missing"},
        {"INSERT INTO digest VALUES ('2026-W09', 5)", "table digest: 2026-W09: no event gives"},
        {"UPDATE setting SET value = '\"Eve\"' WHERE subject = 'ADA1' AND field = 'name'",
         "table setting: ADA1 name: differs"},
    };
    Bench *bench = make_store();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CHANGES); i++)
        change(bench, CHANGES[i].sql);
    g_autoptr(GPtrArray) found = check(bench, true);
    assert_int_equal(found->len, G_N_ELEMENTS(CHANGES));
    for (size_t i = 0; i < G_N_ELEMENTS(CHANGES); i++)
        expect_finding(found, CHANGES[i].finding);
    g_autoptr(GPtrArray) after = check(bench, false);
    assert_int_equal(after->len, 0);
    bench_close(bench);
}

static bool dump(Tx *tx, void *context)
{
    *(char **)context = tx_dump(tx);
    return true;
}

static void a_rebuild_gives_the_same_tables(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    g_autofree char *before = NULL, *after = NULL;

    (void)state;
    assert_int_equal(bench_do(bench, live_a_day, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, dump, &before), STORE_OK);
    bench_shut(bench);
    g_autoptr(GPtrArray) findings = check(bench, true);
    assert_int_equal(findings->len, 0);
    bench_reopen(bench);
    assert_int_equal(bench_do(bench, dump, &after), STORE_OK);
    assert_string_equal(before, after);
    assert_non_null(strstr(before, "session id=\"S39\""));
    bench_close(bench);
}

/* The number of rows on a page of a b-tree: SQLite's file format, section 1.6, offset 3 of the page
 * header. */
static int rows_on(const char *page)
{
    return (uint8_t)page[3] * 256 + (uint8_t)page[4];
}

/* One flipped bit on every page but the first in turn, in the byte where a page's first row ends.
 */
static void a_flipped_bit_on_the_disk_is_found(void **state)
{
    Bench *bench = make_store();
    g_autofree char *whole = NULL;
    gsize size = 0;
    int found = 0;

    (void)state;
    assert_true(g_file_get_contents(bench->path, &whole, &size, NULL));
    for (gsize page = 4096; page < size; page += 4096) {
        whole[page + 4095] ^= 0x10;
        assert_true(g_file_set_contents(bench->path, whole, (gssize)size, NULL));
        g_autoptr(GPtrArray) findings = check(bench, false);
        whole[page + 4095] ^= 0x10;
        found += findings->len > 0;
        if (findings->len == 0 && rows_on(whole + page) > 0)
            fail_msg("page %d has rows, a flipped bit on it has no finding",
                     (int)(page / 4096) + 1);
    }
    assert_true(found > 20);
    bench_close(bench);
}

static void a_store_cut_short_is_a_finding(void **state)
{
    Bench *bench = make_store();

    (void)state;
    assert_int_equal(truncate(bench->path, 5 * 4096), 0);
    g_autoptr(GPtrArray) findings = check(bench, false);
    expect_finding(findings, bench->path);
    bench_close(bench);
}

static void no_store_is_no_finding(void **state)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *folder = bench_folder();
    g_autofree char *path = g_build_filename(folder, "store.db", NULL);
    g_autofree char *why = NULL;
    int64_t events;

    (void)state;
    assert_int_equal(store_sqlite_check(path, false, findings, &events, &why), OPEN_NO_STORE);
    assert_non_null(strstr(why, "no store there"));
    assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
    bench_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_untouched_store_is_sound),
        cmocka_unit_test(a_changed_event_is_found_in_every_field),
        cmocka_unit_test(a_missing_event_is_found),
        cmocka_unit_test(a_lost_last_event_shows_in_the_tables),
        cmocka_unit_test(a_changed_derived_row_is_found_and_rebuilt),
        cmocka_unit_test(a_rebuild_gives_the_same_tables),
        cmocka_unit_test(a_flipped_bit_on_the_disk_is_found),
        cmocka_unit_test(a_store_cut_short_is_a_finding),
        cmocka_unit_test(no_store_is_no_finding),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
