/* SPDX-License-Identifier: Apache-2.0 */
/* What the commands print and keep: where it cannot go, what it may hold, and who may read it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

/* The exit code of "osier WORDS" as a shell runs it; *err is g_free. */
static int in_shell(const char *words, char **err)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    char *tests = g_strrstr(self, "/tests/");
    int status = 0;

    assert_non_null(tests);
    *tests = '\0';
    g_autofree char *line = g_strdup_printf("%s/osier %s", self, words);
    char *argv[] = {(char *)"/bin/sh", (char *)"-c", line, NULL};
    assert_true(g_spawn_sync(NULL, argv, NULL, 0, NULL, NULL, NULL, err, &status, NULL));
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* A list that did not get out is not an empty list. */
static void what_cannot_be_printed_is_no_success(void **state)
{
    static const char *const WORDS[] = {"alerts --json", "status", "size hi",
                                        "times --zone UTC --start "
                                        "2026-03-02T08:00 --rule FREQ=DAILY",
                                        "--help"};
    static const char *const PLACES[] = {">/dev/full", ">&-"};
    Solo desk = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WORDS) * G_N_ELEMENTS(PLACES); i++) {
        g_autofree char *err = NULL;
        g_autofree char *line =
            g_strdup_printf("%s --clinic %s %s", WORDS[i / 2], desk.site->clinic, PLACES[i % 2]);
        assert_int_equal(in_shell(line, &err), 74);
        assert_true(g_str_has_prefix(err, "osier: output: standard output: cannot be written"));
    }
    solo_close(&desk);
}

/* A text can hold what a terminal obeys, and what turns words about. */
static void what_clients_write_is_shown_and_not_obeyed(void **state)
{
    static const char *const LISTS[] = {"replies", "unread", "alerts", "why"};
    Solo desk = solo_open(SPEAKS_JSON, "08:30");
    const char *const json[] = {"Content-Type: application/json", NULL};
    const char *body = "{\"msg\":{\"uid\":7,\"who\":\"+442079460001\",\"content\":"
                       "\"I fell \\u001b[2J\\u202e and \\u009b31m purple\"}}";

    (void)state;
    solo_to(&desk, "2026-03-02T08:31:00Z");
    assert_int_equal(site_post(desk.port, "/in/texts", json, body, strlen(body)), 200);
    json_t *replies = site_ask(desk.site, "replies");
    const json_t *reply = json_array_get(replies, 0);
    g_autofree char *text = look_copy(reply, "text");
    g_autofree char *id = look_copy(reply, "reply");
    assert_non_null(strstr(text, "\x1b[2J"));
    for (size_t i = 0; i < G_N_ELEMENTS(LISTS); i++) {
        g_autofree char *told = site_told(desk.site, "%s %s", LISTS[i], i == 3 ? id : "");
        assert_null(strchr(told, '\x1b'));
        assert_null(strstr(told, "\xe2\x80\xae"));
        assert_null(strstr(told, "\xc2\x9b"));
        if (i == 0) assert_non_null(strstr(told, "purple"));
    }
    json_decref(replies);
    solo_close(&desk);
}

/* It names clients. What is there already and is no file is neither written over nor replaced. */
static void the_week_is_kept_for_its_owner_alone(void **state)
{
    static const char *const FORMATS[] = {"text", "html", "json", "pdf"};
    Solo desk = solo_open(SPEAKS_JSON, "08:30");
    g_autofree char *out = g_build_filename(desk.site->root, "week", NULL);
    g_autofree char *pipe = g_build_filename(desk.site->root, "pipe", NULL);
    GStatBuf there;

    (void)state;
    assert_int_equal(mkfifo(pipe, 0600), 0);
    for (size_t i = 0; i < G_N_ELEMENTS(FORMATS); i++) {
        g_unlink(out);
        assert_int_equal(
            site_osier(desk.site, NULL, NULL, "week --format %s --out %s", FORMATS[i], out), 0);
        assert_int_equal(g_stat(out, &there), 0);
        assert_int_equal(there.st_mode & 0777, 0600);
        site_fails(desk.site, 73, "is no file", "week --format %s --out %s", FORMATS[i], pipe);
        assert_int_equal(g_lstat(pipe, &there), 0);
        assert_true(S_ISFIFO(there.st_mode));
    }
    solo_close(&desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_cannot_be_printed_is_no_success),
        cmocka_unit_test(what_clients_write_is_shown_and_not_obeyed),
        cmocka_unit_test(the_week_is_kept_for_its_owner_alone),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
