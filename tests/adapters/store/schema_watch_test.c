/* SPDX-License-Identifier: Apache-2.0 */
/* Who only looks at a schema of a real server: sees whether somebody works on it, takes nothing, and notes what was kept. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/schema_watch.h"
#include "adapters/store/store_postgres.h"
#include "tests/support/pg_server.h"
#include "tests/support/store_bench.h"

#define LEAVE_TURNS 3000
#define LEAVE_TURN_US 10000

typedef struct {
    Bench bench; /* who works */
    SchemaWatch *watch;
    char *fence; /* of who looks */
} Scene;

static Scene *scene_new(void)
{
    Scene *scene = g_new0(Scene, 1);

    scene->bench =
        (Bench){.sort = BENCH_POSTGRES, .schema = pg_server_schema(), .folder = bench_folder()};
    uv_loop_init(&scene->bench.loop);
    scene->fence = g_build_filename(scene->bench.folder, "store.fence", NULL);
    scene->watch = schema_watch_new(&(PostgresPlace){
        .connect = pg_server_connect(), .schema = scene->bench.schema, .fence_file = scene->fence});
    return scene;
}

static OpenResult work(Scene *scene, const char *fence)
{
    const PostgresPlace place = {
        .connect = pg_server_connect(), .schema = scene->bench.schema, .fence_file = fence};
    g_autofree char *why = NULL;

    return store_postgres_open(&scene->bench.loop, &place, STORE_LIVE, BENCH_REPLICA, BENCH_MORNING,
                               &scene->bench.store, &why);
}

static void scene_free(Scene *scene)
{
    if (scene->bench.store != NULL) bench_shut(&scene->bench);
    schema_watch_free(scene->watch);
    uv_loop_close(&scene->bench.loop);
    bench_remove(scene->bench.folder);
    g_free(scene->bench.folder);
    g_free(scene->bench.schema);
    g_free(scene->fence);
    g_free(scene);
}

static void sees(Scene *scene, SchemaLook expected, const char *holds)
{
    g_autofree char *why = NULL;
    SchemaLook seen = schema_watch_look(scene->watch, &why);

    if (seen != expected) fail_msg("sees %d, not %d: %s", seen, expected, why);
    assert_int_equal(why != NULL, seen == SCHEMA_UNSEEN);
    if (why != NULL && (strstr(why, holds) == NULL || strchr(why, '\n') != NULL))
        fail_msg("%s", why);
}

/* The server frees what a process had once it has noticed that it left. */
static void left(Scene *scene)
{
    SchemaLook seen = SCHEMA_HELD;

    bench_shut(&scene->bench);
    scene->bench.store = NULL;
    for (int i = 0; i < LEAVE_TURNS && seen == SCHEMA_HELD; i++) {
        g_autofree char *why = NULL;
        seen = schema_watch_look(scene->watch, &why);
        g_usleep(LEAVE_TURN_US);
    }
    assert_int_equal(seen, SCHEMA_FREE);
}

static void append(Scene *scene)
{
    assert_int_equal(bench_do(&scene->bench, bench_append, (void *)"2026-W10"), STORE_OK);
}

static void it_sees_who_works_and_does_not_stand_in_the_way(void **state)
{
    Scene *scene = scene_new();

    (void)state;
    sees(scene, SCHEMA_FREE, ""); /* which is not even made */
    assert_int_equal(work(scene, NULL), OPEN_OK);
    sees(scene, SCHEMA_HELD, "");
    append(scene);
    sees(scene, SCHEMA_HELD, "");
    left(scene);
    assert_int_equal(work(scene, NULL), OPEN_OK);
    sees(scene, SCHEMA_HELD, "");
    scene_free(scene);
}

static void the_schema_of_another_clinic_is_another_matter(void **state)
{
    Scene *scene = scene_new();
    Scene *other = scene_new();

    (void)state;
    assert_int_equal(work(other, NULL), OPEN_OK);
    sees(scene, SCHEMA_FREE, "");
    sees(other, SCHEMA_HELD, "");
    scene_free(scene);
    scene_free(other);
}

static void a_server_that_is_away_or_otherwise_is_not_seen(void **state)
{
    Scene *scene = scene_new();

    (void)state;
    sees(scene, SCHEMA_FREE, "");
    pg_server_stop();
    sees(scene, SCHEMA_UNSEEN, "no database");
    sees(scene, SCHEMA_UNSEEN, "");
    pg_server_start("fsync=off");
    sees(scene, SCHEMA_UNSEEN, "fsync is off");
    pg_server_stop();
    pg_server_start(NULL);
    sees(scene, SCHEMA_FREE, "");
    scene_free(scene);
}

/* What was kept is noted by who looks as well, so the two need not die with one server to be missed. */
static void a_server_that_lacks_what_was_seen_is_not_gone_on_with(void **state)
{
    Scene *scene = scene_new();

    (void)state;
    assert_int_equal(work(scene, NULL), OPEN_OK);
    append(scene);
    pg_server_copy();
    append(scene);
    append(scene);
    sees(scene, SCHEMA_HELD, "");
    pg_server_fail_over();
    sees(scene, SCHEMA_UNSEEN, "");
    sees(scene, SCHEMA_UNSEEN, "standby");
    pg_server_promote();
    sees(scene, SCHEMA_UNSEEN, "lacks the last 2 commits");
    bench_shut(&scene->bench);
    scene->bench.store = NULL;
    assert_int_equal(work(scene, scene->fence), OPEN_CANNOT);
    scene_free(scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_sees_who_works_and_does_not_stand_in_the_way),
        cmocka_unit_test(the_schema_of_another_clinic_is_another_matter),
        cmocka_unit_test(a_server_that_is_away_or_otherwise_is_not_seen),
        cmocka_unit_test(a_server_that_lacks_what_was_seen_is_not_gone_on_with),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
