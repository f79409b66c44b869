/* SPDX-License-Identifier: Apache-2.0 */
/* Two rehearsals with one seed, by the real programs: the same files, nothing lost, nothing
 * repeated. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>
#include <glib.h>
#include <jansson.h>
#include <stdbool.h>
#include <sys/wait.h>

#include "tests/support/folder.h"

/* "build/osier" of "build/tests/real/rehearse_test". */
static char *osier(void)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *folder = g_path_get_dirname(self);

    return g_build_filename(folder, "..", "..", "osier", NULL);
}

/* Three days into out; the exit code, and what was said (g_free) where one asks. With json, nothing but a document is said. */
static int rehearse_as(const char *root, const char *name, const char *seed, bool json, char **told)
{
    g_autofree char *program = osier();
    g_autofree char *out = g_build_filename(root, name, NULL);
    const char *words[] = {
        program, "rehearse", "--from", "2026-03-06",           "--days", "3", "--seed",
        seed,    "--out",    out,      json ? "--json" : NULL, NULL};
    g_autofree char *said = NULL;
    g_autofree char *complained = NULL;
    int status = 0;

    /* Away from any clinic's folder, so that the demo's is taken. */
    assert_true(g_spawn_sync(root, (char **)words, NULL, G_SPAWN_DEFAULT, NULL, NULL, &said,
                             &complained, &status, NULL));
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == 0) {
        assert_string_equal(complained, "");
        assert_int_equal(strstr(said, "PLEASE CALL") != NULL, !json);
    }
    if (told != NULL) *told = g_steal_pointer(&said);
    return WEXITSTATUS(status);
}

static int rehearse(const char *root, const char *name, const char *seed)
{
    return rehearse_as(root, name, seed, false, NULL);
}

static char *content(const char *root, const char *name, const char *file)
{
    g_autofree char *path = g_build_filename(root, name, file, NULL);
    char *text = NULL;

    if (!g_file_get_contents(path, &text, NULL, NULL)) fail_msg("no %s", path);
    return text;
}

static void one_seed_gives_the_same_files(void **state)
{
    static const char *const FILES[] = {"summary.json", "messages.jsonl", "alerts.jsonl",
                                        "ledger.jsonl"};
    char *root = folder_new();
    g_autofree char *told = NULL;

    (void)state;
    assert_int_equal(rehearse(root, "one", "11"), 0);
    assert_int_equal(rehearse_as(root, "two", "11", true, &told), 0);
    json_t *summary = json_loads(told, 0, NULL);
    assert_true(json_is_object(json_object_get(summary, "sessions")));
    json_decref(summary);
    assert_int_equal(rehearse(root, "other", "12"), 0);
    for (size_t i = 0; i < G_N_ELEMENTS(FILES); i++) {
        g_autofree char *one = content(root, "one", FILES[i]);
        g_autofree char *two = content(root, "two", FILES[i]);
        if (strcmp(one, two) != 0) fail_msg("%s differs", FILES[i]);
    }
    g_autofree char *one = content(root, "one", "ledger.jsonl");
    g_autofree char *other = content(root, "other", "ledger.jsonl");
    assert_string_not_equal(one, other);
    folder_remove(root);
}

static void nothing_is_lost_or_repeated(void **state)
{
    char *root = folder_new();

    (void)state;
    assert_int_equal(rehearse(root, "out", "3"), 0);
    g_autofree char *text = content(root, "out", "summary.json");
    json_t *summary = json_loads(text, 0, NULL);
    assert_non_null(summary);
    assert_int_equal(json_integer_value(json_object_get(summary, "lost")), 0);
    assert_int_equal(json_integer_value(json_object_get(summary, "repeated")), 0);
    assert_true(json_integer_value(json_object_get(summary, "reminders")) > 20);
    assert_true(json_integer_value(json_object_get(summary, "reports")) > 20);
    assert_int_equal(json_integer_value(json_object_get(summary, "digests")), 1);
    json_decref(summary);
    /* What is there is not written over. */
    assert_int_equal(rehearse(root, "out", "3"), 73);
    folder_remove(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_seed_gives_the_same_files),
        cmocka_unit_test(nothing_is_lost_or_repeated),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
