/* SPDX-License-Identifier: Apache-2.0 */
/* What the real store refuses to open, and in which words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/store_bench.h"

typedef struct {
    char *folder;
    char *path;
    uv_loop_t loop;
} Place;

static Place *place_new(void)
{
    Place *place = g_new0(Place, 1);

    place->folder = bench_folder();
    place->path = g_build_filename(place->folder, "store.db", NULL);
    uv_loop_init(&place->loop);
    return place;
}

static void place_free(Place *place)
{
    uv_loop_close(&place->loop);
    bench_remove(place->folder);
    g_free(place->folder);
    g_free(place->path);
    g_free(place);
}

/* Opens, closes again where it opened, and looks for words in what it said. */
static void expect(Place *place, StoreMode mode, OpenResult expected, const char *words)
{
    Store *store = NULL;
    char *why = NULL;
    OpenResult result = store_sqlite_open(&place->loop, place->path, mode, BENCH_REPLICA,
                                          BENCH_MORNING, &store, &why);

    assert_int_equal(result, expected);
    if (result == OPEN_OK) {
        assert_null(why);
        store->close(store);
        uv_run(&place->loop, UV_RUN_DEFAULT);
        return;
    }
    assert_null(store);
    assert_true(g_str_has_prefix(why, place->path));
    assert_null(strchr(why, '\n'));
    if (strstr(why, words) == NULL) fail_msg("\"%s\" does not say \"%s\"", why, words);
    g_free(why);
}

static void change(Place *place, const char *sql)
{
    sqlite3 *db = NULL;

    assert_int_equal(sqlite3_open(place->path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

static void write_file(Place *place, const char *content, gssize length)
{
    assert_true(g_file_set_contents(place->path, content, length, NULL));
}

static void a_new_store_is_its_owners_alone(void **state)
{
    Place *place = place_new();
    struct stat about;

    (void)state;
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    assert_int_equal(stat(place->path, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0600);
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    place_free(place);
}

static void neither_mode_opens_the_others_store(void **state)
{
    Place *live = place_new(), *rehearsal = place_new();

    (void)state;
    expect(live, STORE_LIVE, OPEN_OK, NULL);
    expect(live, STORE_REHEARSAL, OPEN_OTHER_MODE, "a live store");
    expect(rehearsal, STORE_REHEARSAL, OPEN_OK, NULL);
    expect(rehearsal, STORE_LIVE, OPEN_OTHER_MODE, "a rehearsal's store");
    place_free(live);
    place_free(rehearsal);
}

static void what_is_no_store_is_refused(void **state)
{
    Place *place = place_new();
    g_autofree char *garbage = g_strnfill(5000, 'x');

    (void)state;
    write_file(place, garbage, -1);
    expect(place, STORE_LIVE, OPEN_NO_STORE, "not a store");
    write_file(place, "short", -1);
    expect(place, STORE_LIVE, OPEN_NO_STORE, "not a store");
    g_remove(place->path);
    change(place, "CREATE TABLE song (title TEXT)");
    expect(place, STORE_LIVE, OPEN_NO_STORE, "a database of something else");
    place_free(place);
}

static void an_empty_file_becomes_a_store(void **state)
{
    Place *place = place_new();

    (void)state;
    write_file(place, "", 0);
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    place_free(place);
}

static void links_folders_and_missing_folders_are_refused(void **state)
{
    Place *place = place_new();
    g_autofree char *target = g_build_filename(place->folder, "elsewhere.db", NULL);

    (void)state;
    assert_int_equal(symlink(target, place->path), 0);
    expect(place, STORE_LIVE, OPEN_NO_STORE, "not a plain file");
    g_remove(place->path);
    assert_int_equal(g_mkdir(place->path, 0700), 0);
    expect(place, STORE_LIVE, OPEN_NO_STORE, "not a plain file");
    g_rmdir(place->path);
    g_free(place->path);
    place->path = g_build_filename(place->folder, "no", "such", "store.db", NULL);
    expect(place, STORE_LIVE, OPEN_CANNOT, "No such file");
    place_free(place);
}

static void a_folder_reached_by_a_link_is_fine(void **state)
{
    Place *place = place_new();
    g_autofree char *link = g_strconcat(place->folder, "-link", NULL);

    (void)state;
    assert_int_equal(symlink(place->folder, link), 0);
    g_free(place->path);
    place->path = g_build_filename(link, "store.db", NULL);
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    g_remove(link);
    place_free(place);
}

static void a_truncated_store_is_damaged(void **state)
{
    Place *place = place_new();
    struct stat about;

    (void)state;
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    assert_int_equal(stat(place->path, &about), 0);
    assert_int_equal(truncate(place->path, about.st_size / 2 / 4096 * 4096), 0);
    expect(place, STORE_LIVE, OPEN_NO_STORE, "damaged");
    place_free(place);
}

static void a_store_without_a_table_is_damaged(void **state)
{
    Place *place = place_new();

    (void)state;
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    change(place, "DROP TABLE outbox");
    expect(place, STORE_LIVE, OPEN_NO_STORE, "table outbox lacks id");
    change(place, "DROP TABLE meta");
    expect(place, STORE_LIVE, OPEN_NO_STORE, "meta is missing");
    place_free(place);
}

static void a_changed_last_event_is_damage(void **state)
{
    Place *place = place_new();

    (void)state;
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    change(place, "UPDATE event SET author = 'someone'");
    expect(place, STORE_LIVE, OPEN_NO_STORE, "its chain of events does not hold");
    place_free(place);
}

static void a_newer_osiers_store_is_left_alone(void **state)
{
    Place *place = place_new();

    (void)state;
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    change(place, "UPDATE meta SET value = '99' WHERE key = 'schema'");
    expect(place, STORE_LIVE, OPEN_NEWER, "newer osier");
    place_free(place);
}

static void a_second_opener_hears_at_once(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    Place other = {.path = bench->path};

    (void)state;
    uv_loop_init(&other.loop);
    expect(&other, STORE_LIVE, OPEN_IN_USE, "in use");
    uv_loop_close(&other.loop);
    assert_int_equal(bench_do(bench, bench_append, (void *)"2026-W01"), STORE_OK);
    bench_close(bench);
}

/* What another process is told: the child holds the store until the parent has tried. */
static void another_process_is_refused(void **state)
{
    Place *place = place_new();
    int ready[2], go[2];
    char byte = 0;

    (void)state;
    assert_int_equal(pipe(ready), 0);
    assert_int_equal(pipe(go), 0);
    pid_t child = fork();
    if (child == 0) {
        Store *store = NULL;
        char *why = NULL;
        bool opened = store_sqlite_open(&place->loop, place->path, STORE_LIVE, BENCH_REPLICA,
                                        BENCH_MORNING, &store, &why) == OPEN_OK;
        bool told = write(ready[1], opened ? "y" : "n", 1) == 1 && read(go[0], &byte, 1) == 1;
        _exit(told ? 0 : 1);
    }
    assert_int_equal(read(ready[0], &byte, 1), 1);
    assert_int_equal(byte, 'y');
    expect(place, STORE_LIVE, OPEN_IN_USE, "another process");
    GPtrArray *findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events;
    assert_int_equal(store_sqlite_check(place->path, false, findings, &events, &why), OPEN_IN_USE);
    g_ptr_array_unref(findings);
    assert_int_equal(write(go[1], "x", 1), 1);
    assert_int_equal(waitpid(child, NULL, 0), child);
    expect(place, STORE_LIVE, OPEN_OK, NULL);
    for (int i = 0; i < 2; i++) {
        close(ready[i]);
        close(go[i]);
    }
    place_free(place);
}

static bool tell_replica(Tx *tx, void *context)
{
    *(char **)context = g_strdup(tx_replica(tx));
    return true;
}

static void the_replica_is_drawn_once(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    g_autofree char *replica = NULL;
    char *why = NULL;

    (void)state;
    bench_shut(bench);
    assert_int_equal(store_sqlite_open(&bench->loop, bench->path, STORE_LIVE, "ffffffffffffffff",
                                       BENCH_MORNING, &bench->store, &why),
                     OPEN_OK);
    assert_int_equal(bench_do(bench, tell_replica, &replica), STORE_OK);
    assert_string_equal(replica, BENCH_REPLICA);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(another_process_is_refused), /* forks: before any thread has run */
        cmocka_unit_test(a_new_store_is_its_owners_alone),
        cmocka_unit_test(neither_mode_opens_the_others_store),
        cmocka_unit_test(what_is_no_store_is_refused),
        cmocka_unit_test(an_empty_file_becomes_a_store),
        cmocka_unit_test(links_folders_and_missing_folders_are_refused),
        cmocka_unit_test(a_folder_reached_by_a_link_is_fine),
        cmocka_unit_test(a_truncated_store_is_damaged),
        cmocka_unit_test(a_store_without_a_table_is_damaged),
        cmocka_unit_test(a_changed_last_event_is_damage),
        cmocka_unit_test(a_newer_osiers_store_is_left_alone),
        cmocka_unit_test(a_second_opener_hears_at_once),
        cmocka_unit_test(the_replica_is_drawn_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
