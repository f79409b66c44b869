/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/files/secrets.h"
#include "tests/support/folder.h"

typedef struct {
    char *folder;
    char *room;
    GPtrArray *messages;
} Fixture;

static int set_up(void **state)
{
    Fixture *fixture = g_new0(Fixture, 1);

    fixture->folder = folder_new();
    folder_room(fixture->folder, "secrets");
    fixture->room = g_build_filename(fixture->folder, "secrets", NULL);
    fixture->messages = g_ptr_array_new_with_free_func(g_free);
    g_unsetenv("CREDENTIALS_DIRECTORY");
    *state = fixture;
    return 0;
}

static int tear_down(void **state)
{
    Fixture *fixture = *state;

    folder_remove(fixture->folder);
    g_free(fixture->room);
    g_ptr_array_unref(fixture->messages);
    g_free(fixture);
    g_unsetenv("CREDENTIALS_DIRECTORY");
    return 0;
}

static void complained(const Fixture *fixture, const char *part)
{
    assert_int_equal(fixture->messages->len, 1);
    if (strstr(fixture->messages->pdata[0], part) == NULL)
        fail_msg("%s", (char *)fixture->messages->pdata[0]);
}

static void one_newline_at_the_end_is_ignored(void **state)
{
    Fixture *fixture = *state;

    folder_write(fixture->room, "texts.key", "open sesame\n", -1, 0600);
    folder_write(fixture->room, "plain", "two\n\n", -1, 0400);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    assert_int_equal(fixture->messages->len, 0);
    assert_string_equal(secrets_get(secrets, "texts.key"), "open sesame");
    assert_string_equal(secrets_get(secrets, "plain"), "two\n");
    assert_null(secrets_get(secrets, "absent"));
}

static void folder_may_be_absent(void **state)
{
    Fixture *fixture = *state;

    assert_int_equal(g_rmdir(fixture->room), 0);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    assert_int_equal(fixture->messages->len, 0);
    assert_null(secrets_get(secrets, "texts.key"));
}

static void file_that_others_read_is_refused(void **state)
{
    Fixture *fixture = *state;

    folder_write(fixture->room, "texts.key", "x", -1, 0640);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    complained(fixture, "secrets/texts.key:1:1: mode 0640: others can get at it; chmod 0600");
    assert_null(secrets_get(secrets, "texts.key"));
    assert_true(secrets_is_unfit(secrets, "texts.key"));
    assert_false(secrets_is_unfit(secrets, "absent"));
}

static void folder_that_others_enter_is_refused(void **state)
{
    Fixture *fixture = *state;

    folder_write(fixture->room, "texts.key", "x", -1, 0600);
    assert_int_equal(g_chmod(fixture->room, 0755), 0);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    complained(fixture, "secrets:1:1: mode 0755: others can get at it; chmod 0700");
    assert_null(secrets_get(secrets, "texts.key"));
}

static void file_of_somebody_else_is_refused(void **state)
{
    Fixture *fixture = *state;
    g_autofree char *path = g_build_filename(fixture->room, "texts.key", NULL);

    if (geteuid() != 0) skip();
    folder_write(fixture->room, "texts.key", "x", -1, 0600);
    assert_int_equal(chown(path, 12345, 12345), 0);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    complained(fixture, "owner 12345: belongs to another user");
}

static void what_is_no_secret_is_told(void **state)
{
    static const struct {
        const char *name, *text;
        gssize length;
        const char *part;
    } CASES[] = {
        {"Texts_Key", "x", -1, "a secret's name has only"},
        {"empty", "", 0, "is empty"},
        {"newline", "\n", -1, "is empty"},
        {"nul", "a\0b", 3, "holds a NUL"},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        Fixture *fixture = *state;
        g_autofree char *path = g_build_filename(fixture->room, CASES[i].name, NULL);
        g_ptr_array_set_size(fixture->messages, 0);
        folder_write(fixture->room, CASES[i].name, CASES[i].text, CASES[i].length, 0600);
        g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
        complained(fixture, CASES[i].part);
        g_unlink(path);
    }
}

static void too_long_linked_and_piped(void **state)
{
    Fixture *fixture = *state;
    g_autofree char *long_text = g_strnfill(4097, 'x');
    g_autofree char *whole_text = g_strnfill(4096, 'x');
    g_autofree char *link = g_build_filename(fixture->room, "link", NULL);
    g_autofree char *pipe_path = g_build_filename(fixture->room, "pipe", NULL);

    folder_write(fixture->room, "long", long_text, -1, 0600);
    folder_write(fixture->room, "whole", whole_text, -1, 0600);
    assert_int_equal(symlink("whole", link), 0);
    assert_int_equal(mkfifo(pipe_path, 0600), 0);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    assert_int_equal(fixture->messages->len, 3);
    assert_string_equal(secrets_get(secrets, "whole"), whole_text);
    assert_null(secrets_get(secrets, "long"));
    assert_null(secrets_get(secrets, "link"));
}

static void service_manager_comes_first(void **state)
{
    Fixture *fixture = *state;
    char *credentials = folder_new();

    folder_write(credentials, "texts.key", "theirs", -1, 0440);
    folder_write(fixture->room, "texts.key", "ours", -1, 0600);
    g_setenv("CREDENTIALS_DIRECTORY", credentials, TRUE);
    g_autoptr(Secrets) secrets = secrets_load(fixture->folder, fixture->messages);
    assert_int_equal(fixture->messages->len, 0);
    assert_string_equal(secrets_get(secrets, "texts.key"), "theirs");
    folder_remove(credentials);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_newline_at_the_end_is_ignored, set_up, tear_down),
        cmocka_unit_test_setup_teardown(folder_may_be_absent, set_up, tear_down),
        cmocka_unit_test_setup_teardown(file_that_others_read_is_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(folder_that_others_enter_is_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(file_of_somebody_else_is_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_no_secret_is_told, set_up, tear_down),
        cmocka_unit_test_setup_teardown(too_long_linked_and_piped, set_up, tear_down),
        cmocka_unit_test_setup_teardown(service_manager_comes_first, set_up, tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
