/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/cli.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

/* Runs the command with standard output going to a file; the text is the caller's to g_free. */
static int run_times(const char *arguments, char **text)
{
    const Cli cli = {.clinic = ".", .json = true};
    g_autofree char *line = g_strdup_printf("times %s", arguments);
    g_autofree char *path = NULL;
    g_auto(GStrv) words = NULL;
    int argc;
    int file = g_file_open_tmp("times-XXXXXX", &path, NULL);
    int before = dup(STDOUT_FILENO);

    assert_true(file >= 0 && before >= 0);
    assert_true(g_shell_parse_argv(line, &argc, &words, NULL));
    /* Options are taken out of the vector, so the words are freed through a copy. */
    g_autofree char **vector = g_memdup2(words, sizeof(char *) * ((gsize)argc + 1));
    fflush(stdout);
    dup2(file, STDOUT_FILENO);
    int code = COMMAND_TIMES.run(&cli, argc, vector);
    fflush(stdout);
    dup2(before, STDOUT_FILENO);
    close(before);
    close(file);
    assert_true(g_file_get_contents(path, text, NULL, NULL));
    unlink(path);
    return code;
}

static int line_count(const char *text)
{
    int lines = 0;

    for (; *text != '\0'; text++)
        lines += *text == '\n';
    return lines;
}

static void each_occurrence_is_a_line(void **state)
{
    g_autofree char *text = NULL;

    (void)state;
    assert_int_equal(
        run_times("--zone Europe/London --start 2026-03-28T01:30 --rule 'FREQ=DAILY;COUNT=2'",
                  &text),
        0);
    assert_string_equal(
        text,
        "{\"local\":\"2026-03-28T01:30\",\"utc\":\"2026-03-28T01:30:00Z\",\"kind\":\"plain\"}\n"
        "{\"local\":\"2026-03-29T01:30\",\"utc\":\"2026-03-29T01:30:00Z\",\"kind\":\"gap\"}\n");
}

static void a_missing_date_gives_no_line(void **state)
{
    g_autofree char *text = NULL;

    (void)state;
    assert_int_equal(
        run_times("--zone Pacific/Apia --start 2011-12-29T09:00 --rule 'FREQ=DAILY;COUNT=3'",
                  &text),
        0);
    assert_int_equal(line_count(text), 2);
    assert_null(strstr(text, "2011-12-30T09:00"));
}

static void a_rule_without_end_is_cut(void **state)
{
    g_autofree char *text = NULL;
    g_autofree char *five = NULL;
    g_autofree char *limited = NULL;

    (void)state;
    assert_int_equal(run_times("--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY", &text), 0);
    assert_int_equal(line_count(text), 1000);
    assert_int_equal(
        run_times("--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY --count 5", &five), 0);
    assert_int_equal(line_count(five), 5);
    assert_int_equal(
        run_times("--zone UTC --start 2026-03-01T09:00 --rule 'FREQ=DAILY;COUNT=1500'", &limited),
        0);
    assert_int_equal(line_count(limited), 1500);
}

static void mistakes_have_their_exit_codes(void **state)
{
    static const struct {
        const char *arguments;
        int code;
    } MISTAKES[] = {
        {"--zone Nowhere/Land --start 2026-03-01T09:00 --rule FREQ=DAILY", EXIT_DATA},
        {"--zone UTC --start 2026-03-01 --rule FREQ=DAILY", EXIT_DATA},
        {"--zone UTC --start 2026-02-30T09:00 --rule FREQ=DAILY", EXIT_DATA},
        {"--zone UTC --start 2026-03-01T09:00 --rule FREQ=OFTEN", EXIT_DATA},
        {"--zone UTC --start 2026-03-01T09:00", EXIT_USE},
        {"--start 2026-03-01T09:00 --rule FREQ=DAILY", EXIT_USE},
        {"--zone UTC --rule FREQ=DAILY", EXIT_USE},
        {"--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY --count 0", EXIT_USE},
        {"--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY --count=-3", EXIT_USE},
        {"--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY --count 100001", EXIT_USE},
        {"--zone UTC --start 2026-03-01T09:00 --rule FREQ=DAILY more", EXIT_USE},
        {"--unknown", EXIT_USE},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MISTAKES); i++) {
        g_autofree char *text = NULL;

        if (run_times(MISTAKES[i].arguments, &text) != MISTAKES[i].code)
            fail_msg("%s", MISTAKES[i].arguments);
        assert_string_equal(text, "");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_occurrence_is_a_line),
        cmocka_unit_test(a_missing_date_gives_no_line),
        cmocka_unit_test(a_rule_without_end_is_cut),
        cmocka_unit_test(mistakes_have_their_exit_codes),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
