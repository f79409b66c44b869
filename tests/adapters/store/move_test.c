/* SPDX-License-Identifier: Apache-2.0 */
/* A store that goes from a file to a schema on a real server and back is the same, to the last row; and nothing is written
 * over. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/find_work.h"
#include "adapters/store/place.h"
#include "tests/support/ledger_tables.h"
#include "tests/support/pg_server.h"
#include "tests/support/store_bench.h"

typedef struct {
    Bench *bench; /* on a file */
    PostgresPlace schema;
    StorePlace file_place, schema_place;
    char *name;
    char *digest;
    char *aside;
    char *why;
    int64_t events;
} Scene;

static bool write_history(Tx *tx, void *context)
{
    GRand *random = context;

    for (int i = 0; i < 150; i++) {
        const char *kind;
        g_autofree char *subject = NULL;
        g_autofree char *body = ledger_draw(random, &kind, &subject);
        g_autofree char *key = g_strdup_printf("S%d", i);

        tx_append(tx, kind, subject, "R. Okafor", NULL, json_loads(body, 0, NULL));
        due_set(tx, "session", key, tx_now(tx) + i % 5, i % 3 == 0 ? subject : NULL, NULL);
    }
    tx_set_meta(tx, "sender", "quoted ' \" \\ and \xc3\xa9");
    return true;
}

static Scene open_scene(guint32 seed)
{
    Scene scene = {.bench = bench_open(BENCH_SQLITE), .name = pg_server_schema()};
    GRand *random = g_rand_new_with_seed(seed);

    print_message("seed %u\n", seed);
    assert_int_equal(bench_do(scene.bench, write_history, random), STORE_OK);
    g_rand_free(random);
    bench_shut(scene.bench);
    scene.schema = (PostgresPlace){.connect = pg_server_connect(), .schema = scene.name};
    return scene;
}

/* The places point into the scene, which is where it stays. */
static void set_places(Scene *scene)
{
    scene->file_place = (StorePlace){.file = scene->bench->path};
    scene->schema_place = (StorePlace){.schema = &scene->schema};
}

static void forget(Scene *scene)
{
    g_clear_pointer(&scene->digest, g_free);
    g_clear_pointer(&scene->aside, g_free);
    g_clear_pointer(&scene->why, g_free);
}

static void close_scene(Scene *scene)
{
    forget(scene);
    g_free(scene->name);
    bench_close(scene->bench);
}

static MoveResult move(Scene *scene, bool to_schema)
{
    forget(scene);
    return store_place_move(to_schema ? &scene->file_place : &scene->schema_place,
                            to_schema ? &scene->schema_place : &scene->file_place, BENCH_MORNING,
                            &scene->events, &scene->digest, &scene->aside, &scene->why);
}

static bool dump(Tx *tx, void *context)
{
    *(char **)context = tx_dump(tx);
    return true;
}

static char *dump_of(Scene *scene)
{
    char *text = NULL;

    bench_reopen(scene->bench);
    assert_int_equal(bench_do(scene->bench, dump, &text), STORE_OK);
    bench_shut(scene->bench);
    return text;
}

static void there_and_back_it_is_the_same(void **state)
{
    Scene scene = open_scene(g_random_int());
    set_places(&scene);
    g_autofree char *before = dump_of(&scene);

    (void)state;
    assert_int_equal(move(&scene, true), MOVE_DONE);
    assert_true(scene.events > 150);
    assert_false(g_file_test(scene.bench->path, G_FILE_TEST_EXISTS));
    assert_true(g_file_test(scene.aside, G_FILE_TEST_EXISTS));
    g_autofree char *digest = g_strdup(scene.digest);
    assert_int_equal(move(&scene, true), MOVE_NO_SOURCE);
    assert_int_equal(move(&scene, false), MOVE_DONE);
    assert_string_equal(scene.digest, digest);
    g_autofree char *count = g_strdup_printf("SELECT count(*) FROM \"%s\".event", scene.aside);
    g_autofree char *counted = pg_server_run(count);
    assert_int_equal(g_ascii_strtoll(counted, NULL, 10), scene.events);
    assert_int_equal(move(&scene, false), MOVE_NO_SOURCE);
    g_autofree char *after = dump_of(&scene);
    assert_string_equal(after, before);
    close_scene(&scene);
}

static void a_schema_is_checked_as_a_file_is(void **state)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    Scene scene = open_scene(7);
    set_places(&scene);
    g_autofree char *why = NULL;
    int64_t events;

    (void)state;
    assert_int_equal(move(&scene, true), MOVE_DONE);
    assert_int_equal(store_place_check(&scene.schema_place, false, findings, &events, &why),
                     OPEN_OK);
    assert_int_equal(findings->len, 0);
    assert_int_equal(events, scene.events);
    g_autofree char *table =
        g_strdup_printf("INSERT INTO %s.digest VALUES ('2026-W09', 5)", scene.name);
    g_free(pg_server_run(table));
    assert_int_equal(store_place_check(&scene.schema_place, true, findings, &events, &why),
                     OPEN_OK);
    assert_int_equal(findings->len, 1);
    assert_true(g_str_has_prefix(findings->pdata[0], "table digest: 2026-W09"));
    g_ptr_array_set_size(findings, 0);
    assert_int_equal(store_place_check(&scene.schema_place, false, findings, &events, &why),
                     OPEN_OK);
    assert_int_equal(findings->len, 0);
    g_autofree char *event =
        g_strdup_printf("UPDATE %s.event SET author = 'nobody' WHERE seq = 5", scene.name);
    g_free(pg_server_run(event));
    assert_int_equal(store_place_check(&scene.schema_place, false, findings, &events, &why),
                     OPEN_OK);
    assert_true(findings->len > 0);
    assert_int_equal(move(&scene, false), MOVE_UNSOUND);
    assert_false(g_file_test(scene.bench->path, G_FILE_TEST_EXISTS));
    close_scene(&scene);
}

/* The copy is whole and the old store not yet put aside: the move is ended. One of them goes on: it is refused. */
static void a_move_cut_short_is_ended_but_never_writes_over(void **state)
{
    Scene scene = open_scene(11);
    set_places(&scene);
    int count = 0;

    (void)state;
    assert_int_equal(store_place_fill(scene.bench->path, &scene.schema, &scene.why), MOVE_DONE);
    assert_int_equal(move(&scene, true), MOVE_DONE);
    assert_int_equal(g_rename(scene.aside, scene.bench->path), 0);
    bench_reopen(scene.bench);
    assert_int_equal(bench_do(scene.bench, bench_append, (void *)"2026-W10"), STORE_OK);
    bench_shut(scene.bench);
    assert_int_equal(move(&scene, true), MOVE_TAKEN);
    assert_non_null(strstr(scene.why, "another store is there"));
    assert_int_equal(move(&scene, false), MOVE_TAKEN);
    bench_reopen(scene.bench);
    assert_int_equal(bench_do(scene.bench, bench_count, &count), STORE_OK);
    assert_true(count > 150);
    bench_shut(scene.bench);
    close_scene(&scene);
}

static void what_is_held_or_strange_is_left_alone(void **state)
{
    Scene scene = open_scene(13);
    set_places(&scene);
    g_autofree char *strange =
        g_strdup_printf("CREATE SCHEMA %s; CREATE TABLE %s.bills (id int)", scene.name, scene.name);

    (void)state;
    bench_reopen(scene.bench);
    assert_int_equal(move(&scene, true), MOVE_IN_USE);
    bench_shut(scene.bench);
    g_free(pg_server_run(strange));
    assert_int_equal(move(&scene, true), MOVE_TAKEN);
    assert_true(g_file_test(scene.bench->path, G_FILE_TEST_EXISTS));
    scene.schema.connect = "host=/nowhere dbname=osier";
    assert_int_equal(move(&scene, true), MOVE_CANNOT);
    assert_int_equal(move(&scene, false), MOVE_CANNOT);
    close_scene(&scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(there_and_back_it_is_the_same),
        cmocka_unit_test(a_schema_is_checked_as_a_file_is),
        cmocka_unit_test(a_move_cut_short_is_ended_but_never_writes_over),
        cmocka_unit_test(what_is_held_or_strange_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
