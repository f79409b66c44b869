/* SPDX-License-Identifier: Apache-2.0 */
/* The exit codes of osier check. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/cli.h"
#include "tests/support/store_bench.h"

static int check(const Bench *bench, bool json)
{
    Cli cli = {.clinic = bench->folder, .json = json};
    char *words[] = {(char *)"check", NULL};

    return COMMAND_CHECK.run(&cli, 1, words);
}

static void a_sound_store_is_0_and_one_in_use_75(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);

    (void)state;
    assert_int_equal(check(bench, false), EXIT_LATER);
    bench_shut(bench);
    assert_int_equal(check(bench, false), EXIT_OK);
    assert_int_equal(check(bench, true), EXIT_OK);
    bench_close(bench);
}

static void a_changed_store_is_65(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    sqlite3 *db = NULL;

    (void)state;
    bench_shut(bench);
    assert_int_equal(sqlite3_open(bench->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "UPDATE event SET wall = 1", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    assert_int_equal(check(bench, false), EXIT_DATA);
    assert_int_equal(check(bench, true), EXIT_DATA);
    bench_close(bench);
}

static void spoil(const Bench *bench, const char *sql)
{
    sqlite3 *db = NULL;

    assert_int_equal(sqlite3_open(bench->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* What check says on standard error (g_free). */
static char *complaint(const Bench *bench)
{
    g_autofree char *path = g_build_filename(bench->folder, "said", NULL);
    int kept = dup(STDERR_FILENO);
    char *said = NULL;

    assert_non_null(freopen(path, "w", stderr));
    check(bench, false);
    fflush(stderr);
    dup2(kept, STDERR_FILENO);
    close(kept);
    g_file_get_contents(path, &said, NULL, NULL);
    g_unlink(path);
    return said;
}

static void what_is_found_comes_with_what_to_do(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    Cli cli = {.clinic = bench->folder};
    char *rebuild[] = {(char *)"check", (char *)"--rebuild", NULL};

    (void)state;
    bench_shut(bench);
    spoil(bench, "INSERT INTO digest VALUES ('2026-W09', 5)");
    g_autofree char *tables = complaint(bench);
    assert_non_null(strstr(tables, "osier check --rebuild"));
    assert_int_equal(COMMAND_CHECK.run(&cli, 2, rebuild), EXIT_DATA);
    assert_int_equal(check(bench, false), EXIT_OK);
    spoil(bench, "UPDATE event SET author = 'somebody else'");
    g_autofree char *ledger = complaint(bench);
    assert_non_null(strstr(ledger, "osier restore"));
    assert_null(strstr(ledger, "--rebuild"));
    bench_close(bench);
}

static void no_store_is_66_and_makes_none(void **state)
{
    Bench bench = {.folder = bench_folder()};

    (void)state;
    assert_int_equal(check(&bench, false), EXIT_NO_SUCH);
    bench_remove(bench.folder);
    assert_false(g_file_test(bench.folder, G_FILE_TEST_EXISTS));
    g_free(bench.folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sound_store_is_0_and_one_in_use_75),
        cmocka_unit_test(a_changed_store_is_65),
        cmocka_unit_test(what_is_found_comes_with_what_to_do),
        cmocka_unit_test(no_store_is_66_and_makes_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
