/* SPDX-License-Identifier: Apache-2.0 */
/* osier setup as a script calls it: the document, and the exit code of each mistake. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/cli/cli.h"
#include "tests/support/near.h"

/* Runs the command with stdout and stderr in a file; the text is the caller's to g_free. */
static char *run(const char *line, int *code)
{
    const Cli cli = {.clinic = ".", .json = true};
    g_auto(GStrv) argv = g_strsplit(line, " ", 0);
    FILE *file = tmpfile();
    int out = dup(STDOUT_FILENO), err = dup(STDERR_FILENO);
    char *text = g_malloc0(4096);

    assert_non_null(file);
    fflush(stdout);
    dup2(fileno(file), STDOUT_FILENO);
    dup2(fileno(file), STDERR_FILENO);
    /* GOption takes what it knows out of the list, so that it is given a copy. */
    g_autofree char **copy = g_memdup2(argv, (g_strv_length(argv) + 1) * sizeof *argv);
    *code = COMMAND_SETUP.run(&cli, (int)g_strv_length(argv), copy);
    fflush(stdout);
    dup2(out, STDOUT_FILENO);
    dup2(err, STDERR_FILENO);
    close(out);
    close(err);
    rewind(file);
    size_t length = fread(text, 1, 4095, file);
    text[length] = '\0';
    fclose(file);
    return text;
}

static double field(const char *line, const char *name)
{
    int code;
    g_autofree char *text = run(line, &code);
    json_t *document = json_loads(text, 0, NULL);

    assert_int_equal(code, EXIT_OK);
    assert_non_null(document);
    double value = json_is_true(json_object_get(document, name))
                       ? 1
                       : json_number_value(json_object_get(document, name));
    json_decref(document);
    return value;
}

static void the_documents_of_the_contract(void **state)
{
    (void)state;
    near(field("setup door --leg-cm 85 --distance-cm 20", "angle_deg"), 76.4, 1e-9);
    near(field("setup door --leg-cm 85 --angle-deg 70", "distance_cm"), 29.1, 1e-9);
    near(field("setup ball --leg-cm 85 --ball-cm 65 --hip-cm 10", "angle_deg"), 40.3, 1e-9);
    near(field("setup heel --leg-cm 85 --height-cm 60", "angle_deg"), 44.9, 1e-9);
    near(field("setup door --stature-cm 170 --distance-cm 20", "leg_estimated"), 1, 0);
    near(field("setup door --stature-cm 170 --distance-cm 20", "leg_cm"), 90.1, 1e-9);
    near(field("setup ball --leg-cm 85 --ball-cm 65", "hip_assumed"), 1, 0);
}

static void numbers_are_as_a_person_writes_them(void **state)
{
    int code;
    (void)state;
    g_autofree char *text = run("setup door --leg-cm 85 --distance-cm 20", &code);

    assert_non_null(strstr(text, "\"angle_deg\":76.4,"));
}

static void each_mistake_has_its_exit_code_and_quotes_the_value(void **state)
{
    static const struct {
        const char *line;
        int code;
        const char *says;
    } ROWS[] = {
        {"setup door --leg-cm 85 --distance-cm 90", EXIT_DATA, "osier: --distance-cm: 90: "},
        {"setup door --leg-cm 85 --distance-cm -1", EXIT_DATA, "osier: --distance-cm: -1: "},
        {"setup door --leg-cm 85 --distance-cm nan", EXIT_DATA, "osier: --distance-cm: nan: "},
        {"setup door --leg-cm 8,5 --distance-cm 9", EXIT_DATA, "osier: --leg-cm: 8,5: "},
        {"setup door --leg-cm 85 --angle-deg 91", EXIT_DATA, "osier: --angle-deg: 91: "},
        {"setup door --stature-cm 17 --angle-deg 70", EXIT_DATA, "osier: --stature-cm: 17: "},
        {"setup heel --leg-cm 85 --height-cm 86", EXIT_DATA, "osier: --height-cm: 86: "},
        {"setup ball --leg-cm 85 --ball-cm 15", EXIT_DATA, "osier: --ball-cm: 15: "},
        {"setup door --leg-cm 85", EXIT_USE, "needs one of --distance-cm and --angle-deg"},
        {"setup door --distance-cm 20", EXIT_USE, "needs one of --leg-cm and --stature-cm"},
        {"setup door --leg-cm 85 --stature-cm 170 --distance-cm 20", EXIT_USE, "needs one of"},
        {"setup door --leg-cm 85 --distance-cm 20 --angle-deg 70", EXIT_USE, "needs one of"},
        {"setup door --leg-cm 85 --ball-cm 65", EXIT_USE, "is not for a door"},
        {"setup chair --leg-cm 85 --height-cm 45", EXIT_USE, "osier: setup: chair: "},
        {"setup", EXIT_USE, "door, ball, heel"},
        {"setup door --leg 85 --distance-cm 20", EXIT_USE, "osier: setup: "},
    };
    (void)state;

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        int code;
        g_autofree char *text = run(ROWS[i].line, &code);
        if (code != ROWS[i].code || strstr(text, ROWS[i].says) == NULL)
            fail_msg("%s: %d: %s", ROWS[i].line, code, text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_documents_of_the_contract),
        cmocka_unit_test(numbers_are_as_a_person_writes_them),
        cmocka_unit_test(each_mistake_has_its_exit_code_and_quotes_the_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
