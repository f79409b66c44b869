/* SPDX-License-Identifier: Apache-2.0 */
/* A store whose server goes away, comes back otherwise, or is another by then: nothing that was told to be kept is lost
 * without a word, and nothing is written where it should not be. Every server is a real one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <libpq-fe.h>
#include <string.h>
#include <sys/mount.h>

#include "adapters/store/store_postgres.h"
#include "tests/support/pg_server.h"
#include "tests/support/store_bench.h"

typedef struct {
    Bench bench;
    char *fence;
    char *connect;
    int kept; /* events that were told to be kept */
} Scene;

static OpenResult open_store(Scene *scene, char **why)
{
    const PostgresPlace place = {
        .connect = scene->connect, .schema = scene->bench.schema, .fence_file = scene->fence};

    return store_postgres_open(&scene->bench.loop, &place, STORE_LIVE, BENCH_REPLICA, BENCH_MORNING,
                               &scene->bench.store, why);
}

static Scene *scene_open(const char *more)
{
    Scene *scene = g_new0(Scene, 1);
    g_autofree char *why = NULL;

    scene->bench =
        (Bench){.sort = BENCH_POSTGRES, .schema = pg_server_schema(), .folder = bench_folder()};
    uv_loop_init(&scene->bench.loop);
    scene->fence = g_build_filename(scene->bench.folder, "store.fence", NULL);
    scene->connect = g_strconcat(pg_server_connect(), more, NULL);
    if (open_store(scene, &why) != OPEN_OK) fail_msg("%s", why);
    scene->kept = 1;
    return scene;
}

static void scene_shut(Scene *scene)
{
    if (scene->bench.store != NULL) bench_shut(&scene->bench);
}

static void scene_close(Scene *scene)
{
    scene_shut(scene);
    uv_loop_close(&scene->bench.loop);
    bench_remove(scene->bench.folder);
    g_free(scene->bench.folder);
    g_free(scene->bench.schema);
    g_free(scene->fence);
    g_free(scene->connect);
    g_free(scene);
}

static void reopen(Scene *scene)
{
    g_autofree char *why = NULL;

    scene_shut(scene);
    if (open_store(scene, &why) != OPEN_OK) fail_msg("%s", why);
}

static void is_refused(Scene *scene, OpenResult result, const char *holds)
{
    g_autofree char *why = NULL;

    scene_shut(scene);
    assert_int_equal(open_store(scene, &why), result);
    if (strstr(why, holds) == NULL || strchr(why, '\n') != NULL) fail_msg("%s", why);
}

static void append(Scene *scene, StoreStatus expected)
{
    g_autofree char *week = g_strdup_printf("2026-W%d", scene->kept);
    StoreStatus status = bench_do(&scene->bench, bench_append, week);

    if (status != expected)
        fail_msg("%d, not %d: %s", status, expected,
                 scene->bench.store->problem(scene->bench.store));
    scene->kept += status == STORE_OK;
}

static void says(const Scene *scene, const char *holds)
{
    const char *problem = scene->bench.store->problem(scene->bench.store);

    if (problem == NULL || strstr(problem, holds) == NULL) fail_msg("%s", problem);
}

static void all_is_there(Scene *scene)
{
    int count = 0;

    assert_int_equal(bench_do(&scene->bench, bench_count, &count), STORE_OK);
    assert_int_equal(count, scene->kept);
}

static void restart(const char *setting)
{
    pg_server_stop();
    pg_server_start(setting);
}

static void a_server_that_comes_back_is_gone_on_with(void **state)
{
    Scene *scene = scene_open("");

    (void)state;
    append(scene, STORE_OK);
    pg_server_stop();
    append(scene, STORE_AWAY);
    says(scene, "no database");
    append(scene, STORE_AWAY);
    pg_server_start(NULL);
    append(scene, STORE_OK);
    restart(NULL);
    append(scene, STORE_AWAY); /* finds out */
    append(scene, STORE_OK);
    all_is_there(scene);
    reopen(scene);
    all_is_there(scene);
    scene_close(scene);
}

/* What a server must promise it must promise again when it comes back. */
static void a_server_that_comes_back_otherwise_is_not(void **state)
{
    static const struct {
        const char *setting, *holds;
    } CASES[] = {
        {"default_transaction_read_only=on", "read-only"},
        {"synchronous_commit=off", "synchronous_commit is off"},
        {"synchronous_commit=local", ""},
        {"fsync=off", "fsync is off"},
    };
    Scene *scene = scene_open("");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        bool fine = *CASES[i].holds == '\0';
        restart(CASES[i].setting);
        append(scene, STORE_AWAY);
        append(scene, fine ? STORE_OK : STORE_AWAY);
        if (!fine) {
            says(scene, CASES[i].holds);
            is_refused(scene, OPEN_CANNOT, CASES[i].holds);
        }
        restart(NULL);
        reopen(scene);
        append(scene, STORE_OK);
    }
    all_is_there(scene);
    scene_close(scene);
}

/* The server stops in the midst of a job. It lives as long as the thread that started it, which is the test's own. */
typedef struct {
    uv_mutex_t mutex;
    uv_cond_t moved;
    bool written, gone;
} Storm;

static void set(Storm *storm, bool *what)
{
    uv_mutex_lock(&storm->mutex);
    *what = true;
    uv_cond_signal(&storm->moved);
    uv_mutex_unlock(&storm->mutex);
}

static void wait_for(Storm *storm, const bool *what)
{
    uv_mutex_lock(&storm->mutex);
    while (!*what)
        uv_cond_wait(&storm->moved, &storm->mutex);
    uv_mutex_unlock(&storm->mutex);
}

static bool append_in_a_storm(Tx *tx, void *context)
{
    Storm *storm = context;

    bench_append(tx, (void *)"2026-W01");
    set(storm, &storm->written);
    wait_for(storm, &storm->gone);
    return true;
}

static void keep_status(StoreStatus status, void *context)
{
    (void)context;
    assert_int_equal(status, STORE_AWAY);
}

static void a_commit_that_was_not_kept_is_told_so(void **state)
{
    Scene *scene = scene_open("");
    Storm storm = {0};

    (void)state;
    uv_mutex_init(&storm.mutex);
    uv_cond_init(&storm.moved);
    bench_submit(&scene->bench, append_in_a_storm, keep_status, &storm);
    wait_for(&storm, &storm.written);
    restart(NULL);
    set(&storm, &storm.gone);
    bench_run(&scene->bench);
    append(scene, STORE_OK);
    all_is_there(scene);
    scene_close(scene);
}

/* The server commits on its own device and waits for a standby that is not there; then the connection is cut: "canceling wait
 * for synchronous replication and terminating connection" - the transaction was kept (PostgreSQL 15, 27.2.8). */
static void *cut_while_it_commits(void *context)
{
    static const char WAITS[] = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                                "WHERE wait_event = 'SyncRep'";
    (void)context;
    for (int i = 0; i < 3000; i++) {
        g_autofree char *cut = pg_server_run(WAITS);
        if (cut != NULL) break;
        g_usleep(2000);
    }
    g_free(pg_server_run("ALTER SYSTEM RESET synchronous_standby_names"));
    g_free(pg_server_run("SELECT pg_reload_conf()"));
    return NULL;
}

static void a_commit_in_doubt_that_was_kept_is_told_so(void **state)
{
    Scene *scene = scene_open("");

    (void)state;
    append(scene, STORE_OK);
    g_free(pg_server_run("ALTER SYSTEM SET synchronous_standby_names = 'nobody'"));
    restart(NULL);
    append(scene, STORE_AWAY); /* the connection before the restart */
    GThread *cutting = g_thread_new("cutting", cut_while_it_commits, NULL);
    append(scene, STORE_OK);
    g_thread_join(cutting);
    append(scene, STORE_OK);
    all_is_there(scene);
    reopen(scene);
    all_is_there(scene);
    scene_close(scene);
}

static void a_standby_that_lacks_the_last_commits_is_refused(void **state)
{
    Scene *scene = scene_open("");

    (void)state;
    append(scene, STORE_OK);
    pg_server_copy();
    append(scene, STORE_OK);
    append(scene, STORE_OK);
    pg_server_fail_over();
    append(scene, STORE_AWAY);
    append(scene, STORE_AWAY);
    says(scene, "standby");
    pg_server_promote();
    append(scene, STORE_FAILED);
    says(scene, "lacks the last 2 commits");
    append(scene, STORE_FAILED);
    is_refused(scene, OPEN_CANNOT, "lacks the last 2 commits");
    is_refused(scene, OPEN_CANNOT, scene->fence);
    g_unlink(scene->fence);
    scene->kept -= 2;
    reopen(scene);
    append(scene, STORE_OK);
    all_is_there(scene);
    scene_close(scene);
}

static void a_standby_that_has_them_all_is_gone_on_with(void **state)
{
    Scene *scene = scene_open("");

    (void)state;
    append(scene, STORE_OK);
    pg_server_copy();
    pg_server_fail_over();
    pg_server_promote();
    append(scene, STORE_AWAY);
    append(scene, STORE_OK);
    all_is_there(scene);
    reopen(scene);
    append(scene, STORE_OK);
    scene_close(scene);
}

static void who_wrote_meanwhile_is_noticed(void **state)
{
    Scene *scene = scene_open("");
    Scene other = {.bench = {.sort = BENCH_POSTGRES, .schema = scene->bench.schema},
                   .connect = scene->connect};
    g_autofree char *why = NULL;

    (void)state;
    uv_loop_init(&other.bench.loop);
    assert_int_equal(open_store(&other, &why), OPEN_IN_USE);
    restart(NULL);
    g_clear_pointer(&why, g_free);
    if (open_store(&other, &why) != OPEN_OK) fail_msg("%s", why);
    append(scene, STORE_AWAY);
    append(scene, STORE_AWAY);
    says(scene, "another process has");
    append(&other, STORE_OK);
    scene_shut(&other);
    uv_loop_close(&other.bench.loop);
    append(scene, STORE_STALE);
    says(scene, "did not hear of");
    scene->kept += other.kept;
    reopen(scene);
    all_is_there(scene);
    scene_close(scene);
}

static bool append_much(Tx *tx, void *context)
{
    g_autofree char *much = g_strnfill(200000, 'x');

    /* noise, which does not compress */
    for (int i = 0; i < 200000; i++)
        much[i] = (char)g_random_int_range('a', 'z');
    tx_append(tx, "digest.sent", context, much, NULL, json_pack("{s:I}", "at", tx_now(tx)));
    return true;
}

static void make_room(const char *where, int megabytes, unsigned long flags)
{
    g_autofree char *size = g_strdup_printf("size=%dm,mode=0777", megabytes);

    if (mount("none", where, "tmpfs", flags, size) != 0) fail_msg("no room of %s", size);
}

/* The tables lie on a small device of their own, which fills up and grows again. */
static void a_full_device_keeps_what_it_has_and_passes(void **state)
{
    g_autofree char *where = bench_folder();
    g_autofree char *space = NULL;
    int tries = 0;

    (void)state;
    if (mount("none", where, "tmpfs", 0, "size=8m,mode=0777") != 0) {
        print_message("no device can be mounted here\n");
        g_rmdir(where);
        skip();
    }
    pg_server_connect();
    space = g_strdup_printf("CREATE TABLESPACE small LOCATION '%s'", where);
    pg_server_own(where);
    g_free(pg_server_run(space));
    Scene *scene = scene_open(" options='-c default_tablespace=small'");
    while (bench_do(&scene->bench, append_much, (void *)"2026-W01") == STORE_OK && tries++ < 100)
        scene->kept++;
    assert_in_range(scene->kept, 5, 100);
    says(scene, "no room");
    assert_int_equal(bench_do(&scene->bench, append_much, (void *)"2026-W01"), STORE_FULL);
    make_room(where, 64, MS_REMOUNT);
    append(scene, STORE_OK);
    all_is_there(scene);
    g_autofree char *drop = g_strdup_printf("DROP SCHEMA %s CASCADE", scene->bench.schema);
    scene_shut(scene);
    g_free(pg_server_run(drop));
    g_free(pg_server_run("DROP TABLESPACE small"));
    scene_close(scene);
    assert_int_equal(umount(where), 0);
    g_rmdir(where);
}

static void another_version_of_the_schema_is_refused(void **state)
{
    Scene *scene = scene_open("");
    g_autofree char *newer = g_strdup_printf("UPDATE %s.meta SET value = '99' WHERE key = 'schema'",
                                             scene->bench.schema);
    g_autofree char *none =
        g_strdup_printf("UPDATE %s.meta SET value = '?' WHERE key = 'schema'", scene->bench.schema);

    (void)state;
    scene_shut(scene);
    g_free(pg_server_run(newer));
    is_refused(scene, OPEN_NEWER, "written by a newer osier");
    g_free(pg_server_run(none));
    is_refused(scene, OPEN_NO_STORE, "its version is 0");
    scene_close(scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_server_that_comes_back_is_gone_on_with),
        cmocka_unit_test(a_server_that_comes_back_otherwise_is_not),
        cmocka_unit_test(a_commit_that_was_not_kept_is_told_so),
        cmocka_unit_test(a_commit_in_doubt_that_was_kept_is_told_so),
        cmocka_unit_test(a_standby_that_lacks_the_last_commits_is_refused),
        cmocka_unit_test(a_standby_that_has_them_all_is_gone_on_with),
        cmocka_unit_test(who_wrote_meanwhile_is_noticed),
        cmocka_unit_test(a_full_device_keeps_what_it_has_and_passes),
        cmocka_unit_test(another_version_of_the_schema_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
