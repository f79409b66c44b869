/* SPDX-License-Identifier: Apache-2.0 */
/* osier init and osier check-config as somebody at a terminal meets them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/cli/cli.h"
#include "tests/support/folder.h"

/* Runs a command with one word (or none, NULL) after it; what it prints on standard output is the
 * caller's. */
static char *run(const Command *command, const Cli *cli, const char *word, int *code)
{
    char *folder = folder_new();
    g_autofree char *path = g_build_filename(folder, "out", NULL);
    char *argv[] = {(char *)command->name, (char *)word, NULL};
    char *text = NULL;

    fflush(stdout);
    int kept = dup(STDOUT_FILENO);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    assert_true(dup2(fileno(out), STDOUT_FILENO) >= 0);
    *code = command->run(cli, word != NULL ? 2 : 1, argv);
    fflush(stdout);
    assert_true(dup2(kept, STDOUT_FILENO) >= 0);
    close(kept);
    fclose(out);
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    folder_remove(folder);
    return text;
}

static void new_clinic_passes_its_check(void **state)
{
    char *above = folder_new();
    g_autofree char *dir = g_build_filename(above, "clinic", NULL);
    Cli cli = {.clinic = dir};
    int code;

    (void)state;
    g_autofree char *made = run(&COMMAND_INIT, &cli, dir, &code);
    assert_int_equal(code, EXIT_OK);
    assert_non_null(strstr(made, "sends nothing yet"));
    g_autofree char *checked = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
    if (code != EXIT_OK) fail_msg("%s", checked);
    assert_non_null(strstr(checked, "nothing is wrong"));
    assert_non_null(strstr(checked, "it sends nothing"));
    g_autofree char *again = run(&COMMAND_INIT, &cli, dir, &code);
    assert_int_equal(code, EXIT_CANNOT_MAKE);
    assert_string_equal(again, "");
    cli.json = true;
    g_autofree char *json = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
    assert_string_equal(json, "{\"faults\":[],\"cautions\":[]}\n");
    folder_remove(above);
}

static void faults_are_lines_or_json(void **state)
{
    char *dir = folder_new();
    Cli cli = {.clinic = dir};
    int code;

    (void)state;
    folder_write(dir, "clinic.yaml", "clinic: {zone: \"Mars: Base\"}\nagian: 1h\n", -1, 0600);
    g_autofree char *lines = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
    assert_int_equal(code, EXIT_SETTINGS);
    g_autofree char *line =
        g_strdup_printf("%s/clinic.yaml:2:1: agian: unknown key; did you mean again?\n", dir);
    assert_non_null(strstr(lines, line));
    cli.json = true;
    g_autofree char *text = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
    assert_int_equal(code, EXIT_SETTINGS);
    json_t *document = json_loads(text, 0, NULL), *fault;
    size_t index;
    bool found = false;
    json_array_foreach(json_object_get(document, "faults"), index, fault)
    {
        bool zone = g_strcmp0(json_string_value(json_object_get(fault, "value")), "Mars:Base") == 0;
        found = found || (zone && json_integer_value(json_object_get(fault, "line")) == 1 &&
                          json_integer_value(json_object_get(fault, "column")) == 16);
    }
    assert_true(found);
    json_decref(document);
    folder_remove(dir);
}

/* The clinic has addresses for mail and nothing that takes it. */
static void what_no_gateway_takes_is_told(void **state)
{
    static const char TEXTS[] =
        "clinic: {name: Withy, zone: Europe/London, language: en, phone: \"+442079460100\",\n"
        "  emergency: \"999\", hours: {mon-fri: \"08:30-17:30\"},\n"
        "  digest: {to: [desk@clinic.example]}}\n"
        "duty:\n"
        "  - {name: A. Clinician, sms: \"+447700900901\"}\n"
        "  - {name: B. Clinician, email: b@clinic.example}\n"
        "gateways:\n";
    static const char TEXT_GATEWAY[] =
        "  texts: {kind: http-sms, send: {url: https://gateway.example/send,\n"
        "          form: {to: \"{to}\", text: \"{text}\"}}}\n";
    static const char MAIL_GATEWAY[] =
        "  mail: {kind: mail, from: a@clinic.example, smtp: {url: smtps://mail.example}}\n";
    static const struct {
        const char *gateway;
        const char *lines[3];
    } cases[] = {
        {TEXT_GATEWAY,
         {":3:17: desk@clinic.example: no gateway takes mail",
          ":6:33: b@clinic.example: no gateway takes mail, and this person cannot be called",
          NULL}},
        {MAIL_GATEWAY,
         {":5:31: +447700900901: no gateway takes texts", ":8:3: mail: has no imap", NULL}},
        {"  spool: {kind: spool}\n", {NULL}}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        char *dir = folder_new();
        Cli cli = {.clinic = dir};
        int code;
        g_autofree char *yaml = g_strconcat(TEXTS, cases[i].gateway, NULL);
        folder_write(dir, "clinic.yaml", yaml, -1, 0600);
        g_autofree char *lines = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
        assert_int_equal(code, EXIT_OK);
        for (int k = 0; cases[i].lines[k] != NULL; k++)
            if (strstr(lines, cases[i].lines[k]) == NULL) fail_msg("%s", lines);
        assert_int_equal(strstr(lines, "but look at the lines above") != NULL,
                         cases[i].lines[0] != NULL);
        folder_remove(dir);
    }
}

/* A gateway's program that is not there, then one that may not be run, then one that may: as a list of words and as one. */
static void a_program_that_cannot_be_started_is_told(void **state)
{
    static const char *const COMMANDS[] = {"[programs/modem, x]", "programs/modem"};
    static const char *const PLACES[] = {":7:32: ", ":7:31: "};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(COMMANDS); i++) {
        char *dir = folder_new();
        Cli cli = {.clinic = dir};
        int code;
        g_autofree char *programs = g_build_filename(dir, "programs", NULL);
        g_autofree char *modem = g_build_filename(programs, "modem", NULL);
        g_autofree char *yaml = g_strdup_printf(
            "clinic: {name: Withy, zone: Europe/London, language: en, phone: \"+442079460100\",\n"
            "  emergency: \"999\", hours: {mon-fri: \"08:30-17:30\"},\n"
            "  digest: {to: [desk@clinic.example]}}\n"
            "duty: [{name: A. Clinician, sms: \"+447700900901\"}]\n"
            "gateways:\n"
            "  spool: {kind: spool}\n"
            "  m: {kind: program, command: %s}\n",
            COMMANDS[i]);
        folder_write(dir, "clinic.yaml", yaml, -1, 0600);
        folder_room(dir, "programs");
        g_autofree char *absent =
            g_strconcat(PLACES[i], "programs/modem: there is no such program", NULL);
        g_autofree char *first = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
        assert_int_equal(code, EXIT_OK);
        if (strstr(first, absent) == NULL) fail_msg("%s", first);
        folder_write(programs, "modem", "#!/bin/sh\n", -1, 0600);
        g_autofree char *barred =
            g_strdup_printf("may not be run, and nothing is sent by it; chmod +x %s\n", modem);
        g_autofree char *second = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
        if (strstr(second, barred) == NULL) fail_msg("%s", second);
        assert_int_equal(chmod(modem, 0700), 0);
        g_autofree char *third = run(&COMMAND_CHECK_CONFIG, &cli, NULL, &code);
        if (strstr(third, "look at the lines above") != NULL) fail_msg("%s", third);
        folder_remove(dir);
    }
}

static void words_too_few_or_too_many(void **state)
{
    Cli cli = {.clinic = "."};
    int code;

    (void)state;
    g_autofree char *none = run(&COMMAND_INIT, &cli, NULL, &code);
    assert_int_equal(code, EXIT_USE);
    g_autofree char *many = run(&COMMAND_CHECK_CONFIG, &cli, "more", &code);
    assert_int_equal(code, EXIT_USE);
    g_autofree char *nowhere = run(&COMMAND_INIT, &cli, "/nonexistent/above/clinic", &code);
    assert_int_equal(code, EXIT_CANNOT_MAKE);
}

/* A degree sign would make it UCS-2; osier sends what looks alike, and says so. An accent stays, for it is part of the word. */
static void size_tells_what_is_sent_in_its_place(void **state)
{
    Cli cli = {0};
    int code;

    (void)state;
    g_autofree char *told = run(&COMMAND_SIZE, &cli, "Hip 45\302\260 \342\200\223 today", &code);
    assert_int_equal(code, EXIT_OK);
    assert_string_equal(told, "UCS-2, 15 units, 1 segment\n"
                              "outside GSM-7: \302\260, character 7\n"
                              "sent with look-alikes of GSM-7: Hip 45 deg - today\n"
                              "GSM-7, 18 units, 1 segment\n");
    g_autofree char *accent = run(&COMMAND_SIZE, &cli, "na\303\257ve", &code);
    assert_null(strstr(accent, "sent with"));
    cli.json = true;
    g_autofree char *json = run(&COMMAND_SIZE, &cli, "45\302\260", &code);
    assert_non_null(strstr(json, "\"sent\":{"));
    assert_non_null(strstr(json, "\"text\":\"45 deg\""));
    g_autofree char *same = run(&COMMAND_SIZE, &cli, "45 deg", &code);
    assert_null(strstr(same, "sent"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(new_clinic_passes_its_check),
        cmocka_unit_test(size_tells_what_is_sent_in_its_place),
        cmocka_unit_test(faults_are_lines_or_json),
        cmocka_unit_test(what_no_gateway_takes_is_told),
        cmocka_unit_test(a_program_that_cannot_be_started_is_told),
        cmocka_unit_test(words_too_few_or_too_many),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
