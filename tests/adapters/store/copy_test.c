/* SPDX-License-Identifier: Apache-2.0 */
/* A copy of a store at work: whole, sound, and of what was committed; on the real stores and on their twin alike. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>
#include <sqlite3.h>

#include "tests/support/fault_vfs.h"
#include "tests/support/store_cases.h"

typedef struct {
    Bench *bench;
    char *folder;
    char *path;
    int ended;
    char *problem;
    int events_before; /* committed when the copy was ordered */
    int writes;        /* jobs that write between its pages */
} Scene;

static Scene *scene_open(void **state)
{
    Scene *scene = g_new0(Scene, 1);

    scene->bench = bench_open(bench_sort(state));
    scene->folder = bench_folder();
    scene->path = g_build_filename(scene->folder, "copy.db", NULL);
    return scene;
}

static void scene_close(Scene *scene)
{
    bench_close(scene->bench);
    bench_remove(scene->folder);
    g_free(scene->folder);
    g_free(scene->path);
    g_free(scene->problem);
    g_free(scene);
}

static void ended(const char *problem, void *context)
{
    Scene *scene = context;

    scene->ended++;
    g_free(scene->problem);
    scene->problem = g_strdup(problem);
}

static void order(Scene *scene)
{
    scene->bench->store->copy(scene->bench->store, scene->path, ended, scene);
}

/* So much that a copy takes many turns. */
static bool append_much(Tx *tx, void *context)
{
    (void)context;
    for (int i = 0; i < 2000; i++) {
        g_autofree char *week = g_strdup_printf("week %d of a long account of many words", i);
        bench_append(tx, week);
    }
    return true;
}

static bool append_one(Tx *tx, void *context)
{
    char week[] = "a week while a copy is made";

    (void)context;
    return bench_append(tx, week);
}

static void write_on(StoreStatus status, void *context)
{
    Scene *scene = context;

    assert_int_equal(status, STORE_OK);
    if (scene->ended == 0 && scene->writes++ < 200)
        bench_submit(scene->bench, append_one, write_on, scene);
}

static int events_of_copy(const Scene *scene)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    OpenResult result = store_sqlite_check(scene->path, false, findings, &events, &why);
    if (result != OPEN_OK) fail_msg("%s", why);
    for (guint i = 0; i < findings->len; i++)
        print_message("%s\n", (const char *)findings->pdata[i]);
    assert_int_equal(findings->len, 0);
    return (int)events;
}

static void a_copy_taken_at_work_is_sound(void **state)
{
    Scene *scene = scene_open(state);
    int after = 0;

    assert_int_equal(bench_do(scene->bench, append_much, NULL), STORE_OK);
    assert_int_equal(bench_do(scene->bench, bench_count, &scene->events_before), STORE_OK);
    order(scene);
    bench_submit(scene->bench, append_one, write_on, scene);
    bench_run(scene->bench);
    assert_int_equal(scene->ended, 1);
    assert_null(scene->problem);
    assert_int_equal(bench_do(scene->bench, bench_count, &after), STORE_OK);
    int events = events_of_copy(scene);
    assert_in_range(events, scene->events_before, after);
    scene_close(scene);
}

static void what_is_there_is_not_written_over(void **state)
{
    Scene *scene = scene_open(state);
    g_autofree char *kept = NULL;

    assert_true(g_file_set_contents(scene->path, "mine", -1, NULL));
    order(scene);
    bench_run(scene->bench);
    assert_int_equal(scene->ended, 1);
    assert_string_equal(scene->problem, "cannot make it: File exists");
    assert_true(g_file_get_contents(scene->path, &kept, NULL, NULL));
    assert_string_equal(kept, "mine");
    scene_close(scene);
}

static void no_folder_is_told_and_the_store_goes_on(void **state)
{
    Scene *scene = scene_open(state);
    char week[] = "2026-W10";
    int count = 0;

    g_free(scene->path);
    scene->path = g_build_filename(scene->folder, "none", "copy.db", NULL);
    order(scene);
    bench_run(scene->bench);
    assert_string_equal(scene->problem, "cannot make it: No such file or directory");
    assert_int_equal(bench_do(scene->bench, bench_append, week), STORE_OK);
    assert_int_equal(bench_do(scene->bench, bench_count, &count), STORE_OK);
    scene_close(scene);
}

static void a_full_device_leaves_no_half_copy(void **state)
{
    Scene *scene = scene_open(state);
    char week[] = "2026-W10";

    assert_int_equal(bench_do(scene->bench, append_much, NULL), STORE_OK);
    fault_vfs_fail_writes(1, SQLITE_FULL);
    order(scene);
    bench_run(scene->bench);
    fault_vfs_fail_writes(0, SQLITE_OK);
    assert_string_equal(scene->problem, "cannot be written: no room left on its device");
    assert_false(g_file_test(scene->path, G_FILE_TEST_EXISTS));
    assert_int_equal(bench_do(scene->bench, bench_append, week), STORE_OK);
    scene_close(scene);
}

static void copies_wait_for_one_another(void **state)
{
    Scene *scene = scene_open(state);

    order(scene);
    order(scene); /* the same name: the second finds the first there */
    bench_run(scene->bench);
    assert_int_equal(scene->ended, 2);
    assert_string_equal(scene->problem, "cannot make it: File exists");
    assert_true(events_of_copy(scene) > 0);
    scene_close(scene);
}

static void a_store_that_closes_leaves_no_half_copy(void **state)
{
    Scene *scene = scene_open(state);

    if (scene->bench->sort == BENCH_MEMORY) { /* pumps copy whole */
        scene_close(scene);
        return;
    }
    for (int i = 0; i < 10; i++)
        assert_int_equal(bench_do(scene->bench, append_much, NULL), STORE_OK);
    order(scene);
    bench_shut(scene->bench);
    assert_int_equal(scene->ended, 1);
    if (scene->problem != NULL)
        assert_false(g_file_test(scene->path, G_FILE_TEST_EXISTS));
    else
        assert_true(events_of_copy(scene) > 20000);
    scene_close(scene);
}

static void order_now(StoreStatus status, void *context)
{
    (void)status;
    order(context);
}

/* As after an erasure that was still queued: copies hold the words, and are to be made anew. */
static void a_copy_asked_for_while_the_store_closes_is_told(void **state)
{
    Scene *scene = scene_open(state);

    bench_submit(scene->bench, append_one, order_now, scene);
    bench_shut(scene->bench);
    assert_int_equal(scene->ended, 1);
    if (scene->bench->sort != BENCH_MEMORY) /* pumps copy whole */
        assert_string_equal(scene->problem, "given up: the store closes");
    scene_close(scene);
}

int main(void)
{
    static const BenchCase CASES[] = {
        {"a_copy_taken_at_work_is_sound", a_copy_taken_at_work_is_sound},
        {"what_is_there_is_not_written_over", what_is_there_is_not_written_over},
        {"no_folder_is_told_and_the_store_goes_on", no_folder_is_told_and_the_store_goes_on},
        {"a_full_device_leaves_no_half_copy", a_full_device_leaves_no_half_copy},
        {"copies_wait_for_one_another", copies_wait_for_one_another},
        {"a_store_that_closes_leaves_no_half_copy", a_store_that_closes_leaves_no_half_copy},
        {"a_copy_asked_for_while_the_store_closes_is_told",
         a_copy_asked_for_while_the_store_closes_is_told},
    };

    fault_vfs_install();
    return bench_cases(CASES, G_N_ELEMENTS(CASES));
}
