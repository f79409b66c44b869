/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's clients come in from a spreadsheet, go out again, and an import is taken back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/planted.h"
#include "tests/support/settings.h"
#include "tests/support/site.h"

#define HEADER "Name,Mobile,Mail,Date of birth,Consent,Consent by,Consent date,Notes\r\n"
#define ADA "Ada N.,020 7946 0001,Ada@Post.example,03/04/1950,signed form,R. Okafor,01/03/2026,\r\n"
#define BOB "Bob O.,+44 20 7946 0002,,1944,no,,,hard of hearing\r\n"

static int setup(void **state)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    site_settings(site, settings);
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    *state = site;
    return 0;
}

static int teardown(void **state)
{
    site_free(*state);
    return 0;
}

/* Writes the text as the site's file and imports it; the document whatever the exit code. */
static json_t *import(Site *site, const char *text, const char *options, int code)
{
    g_autofree char *file = g_build_filename(site->root, "in.csv", NULL);
    char *out = NULL;

    folder_write(site->root, "in.csv", text, -1, 0600);
    assert_int_equal(site_osier(site, &out, NULL, "records import --csv %s %s", file, options),
                     code);
    json_t *document = json_loads(out != NULL ? out : "", 0, NULL);
    assert_non_null(document);
    g_free(out);
    return document;
}

static size_t clients(Site *site)
{
    json_t *list = site_ask(site, "client list");
    size_t n = json_array_size(list);

    json_decref(list);
    return n;
}

static void a_preview_writes_nothing_and_saving_does(void **state)
{
    Site *site = *state;
    json_t *told = import(site, HEADER ADA BOB, "", 0);

    look_json(told, "{\"saved\":false,\"rows\":2,\"clients\":2,\"with_consent\":1,\"faults\":[],"
                    "\"alike\":[],\"encoding\":\"UTF-8\",\"dates\":\"day-first\"}");
    json_decref(told);
    assert_int_equal(clients(site), 0);
    told = import(site, HEADER ADA BOB, "--save --by 'R. Okafor'", 0);
    look_json(told, "{\"saved\":true,\"clients\":2}");
    json_decref(told);
    json_t *list = site_ask(site, "client list");
    look_json(look_only(list, "name", "Ada N."),
              "{\"phone\":\"+442079460001\",\"email\":\"ada@post.example\",\"consent\":[\"sms\"],"
              "\"channel\":\"sms\",\"zone\":\"Europe/London\",\"language\":\"en\"}");
    look_json(look_only(list, "name", "Bob O."),
              "{\"phone\":\"+442079460002\",\"consent\":[],\"needs\":\"hard of hearing\"}");
    json_decref(list);
}

static void one_fault_keeps_all_out_unless_told(void **state)
{
    Site *site = *state;
    const char *text = HEADER ADA "Cy,12,,,,,,\r\nDora,020 7946 0004,no-mail,,,,,\r\nshort\r\n";
    json_t *told = import(site, text, "--save", 65);

    look_json(told, "{\"saved\":false,\"clients\":1}");
    json_t *faults = json_object_get(told, "faults");
    assert_int_equal(json_array_size(faults), 3);
    look_json(json_array_get(faults, 0), "{\"row\":3,\"column\":\"Mobile\",\"value\":\"12\"}");
    look_json(json_array_get(faults, 1), "{\"row\":4,\"column\":\"Mail\"}");
    look_json(json_array_get(faults, 2), "{\"row\":5,\"why\":\"has 1 cells, the header 8\"}");
    json_decref(told);
    assert_int_equal(clients(site), 0);
    told = import(site, text, "--save --skip-faulty", 0);
    look_json(told, "{\"saved\":true,\"clients\":1}");
    json_decref(told);
    assert_int_equal(clients(site), 1);
}

static void who_is_there_already_is_noticed(void **state)
{
    Site *site = *state;

    json_decref(import(site, HEADER ADA, "--save", 0));
    json_t *told = import(site,
                          HEADER "ada n,020 7946 0005,,1950,,,,\r\nEva,020 7946 0001,,,,,,\r\n"
                                 "Fay,020 7946 0006,,,,,,\r\nGus,+442079460006,,,,,,\r\n",
                          "--save", 65);
    json_t *alike = json_object_get(told, "alike");
    assert_int_equal(json_array_size(alike), 3);
    look_json(json_array_get(alike, 0), "{\"row\":2,\"column\":\"Name\",\"value\":\"ada n\"}");
    look_json(json_array_get(alike, 1), "{\"row\":3,\"column\":\"Mobile\"}");
    look_json(json_array_get(alike, 2), "{\"row\":5,\"why\":\"is the same in row 4\"}");
    json_decref(told);
    assert_int_equal(clients(site), 1);
    told = import(site, HEADER "Eva,020 7946 0001,,,,,,\r\n", "--save --keep-alike", 0);
    look_json(told, "{\"saved\":true,\"clients\":1}");
    json_decref(told);
    assert_int_equal(clients(site), 2);
}

static void an_import_is_taken_back_but_for_who_has_begun(void **state)
{
    Site *site = *state;
    json_t *told =
        import(site, HEADER ADA "Peregrine Quillfeather,020 7946 0007,,,,,,\r\n", "--save", 0);
    g_autofree char *id = look_copy(told, "import");

    json_decref(told);
    json_t *list = site_ask(site, "client list");
    g_autofree char *ada = look_copy(look_only(list, "name", "Ada N."), "client");
    json_decref(list);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", ada));
    told = site_ask(site, "records undo %s --by 'R. Okafor'", id);
    look_json(told, "{\"undone\":1}");
    assert_string_equal(json_string_value(json_array_get(json_object_get(told, "left"), 0)), ada);
    json_decref(told);
    list = site_ask(site, "client list");
    assert_int_equal(json_array_size(list), 1);
    json_decref(list);
    list = site_ask(site, "records imports");
    look_json(look_only(list, "import", id), "{\"undone\":true,\"rows\":2}");
    json_decref(list);
    site_fails(site, 66, "there is none of that id", "records undo NOSUCH22");
    /* whose words are out may come in again */
    json_decref(import(site, HEADER "Quill,020 7946 0007,,,,,,\r\n", "--save", 0));
    assert_int_equal(site_stop(site), 0);
    static const char *const WORDS[] = {"Quillfeather", NULL};
    g_autofree char *found = planted_find(site->clinic, WORDS);
    assert_null(found);
    json_t *sound = site_ask(site, "check --rebuild");
    look_json(sound, "{\"sound\":true}");
    json_decref(sound);
    assert_int_equal(site_start(site, "2026-03-02T10:00:00Z"), 0);
}

static void a_number_that_was_erased_stays_out(void **state)
{
    Site *site = *state;

    json_decref(import(site, HEADER ADA, "--save", 0));
    json_t *list = site_ask(site, "client list");
    g_autofree char *ada = look_copy(json_array_get(list, 0), "client");
    json_decref(list);
    json_decref(site_ask(site, "client erase %s --by 'R. Okafor' --why 'early: asked'", ada));
    json_t *told = import(site, HEADER "Ann,+44 20 7946 0001,,,,,,\r\n", "--save --skip-faulty", 0);
    look_json(told, "{\"saved\":false,\"clients\":0}");
    assert_non_null(strstr(json_string_value(json_object_get(
                               json_array_get(json_object_get(told, "faults"), 0), "why")),
                           "erased"));
    json_decref(told);
    assert_int_equal(clients(site), 0);
}

static void what_goes_out_comes_in_elsewhere(void **state)
{
    Site *site = *state;
    g_autofree char *out = g_build_filename(site->root, "out", NULL);
    g_autofree char *file = g_build_filename(out, "clients.csv", NULL);
    g_autofree char *text = NULL;

    json_decref(
        import(site, HEADER ADA BOB "\"=Cy, D.\",020 7946 0003,,,,,,\"+1, -1\"\r\n", "--save", 0));
    json_t *there = site_ask(site, "client list");
    json_decref(site_ask(
        site, "client set %s --calendar yes --wording plain",
        json_string_value(json_object_get(look_only(there, "name", "=Cy, D."), "client"))));
    json_decref(there);
    json_t *told = site_ask(site, "records export --csv --out %s", out);
    assert_true(json_integer_value(json_object_get(told, "rows")) > 10);
    json_decref(told);
    site_fails(site, 73, "is not empty", "records export --csv --out %s", out);
    assert_true(g_file_get_contents(file, &text, NULL, NULL));
    assert_non_null(strstr(text, "\"'=Cy, D.\""));
    Site *other = NULL;
    setup((void **)&other);
    told = import(other, text, "--save", 0);
    look_json(told, "{\"saved\":true,\"clients\":3,\"with_consent\":1}");
    json_decref(told);
    json_t *list = site_ask(other, "client list");
    look_json(look_only(list, "name", "=Cy, D."),
              "{\"needs\":\"+1, -1\",\"phone\":\"+442079460003\"}");
    json_t *cy =
        site_ask(other, "client show %s",
                 json_string_value(json_object_get(look_only(list, "name", "=Cy, D."), "client")));
    look_json(cy, "{\"calendar\":true,\"wording\":\"plain\"}");
    json_decref(cy);
    json_decref(list);
    site_free(other);
}

static void a_consent_of_a_day_to_come_is_a_fault(void **state)
{
    Site *site = *state;
    json_t *told =
        import(site, HEADER "Ada N.,020 7946 0001,,,signed form,R. Okafor,01/03/2062,\r\n", "", 65);
    json_t *fault = json_array_get(json_object_get(told, "faults"), 0);

    assert_int_equal(json_array_size(json_object_get(told, "faults")), 1);
    look_is(fault, "value", "signed form, R. Okafor, 2062-03-01");
    json_decref(told);
    told = import(site, HEADER "Ada N.,020 7946 0001,,,\"sms: signed form, R. Okafor\",,,\r\n",
                  "--save", 65);
    assert_int_equal(json_array_size(json_object_get(told, "faults")), 1);
    json_decref(told);
    assert_int_equal(clients(site), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_preview_writes_nothing_and_saving_does, setup, teardown),
        cmocka_unit_test_setup_teardown(one_fault_keeps_all_out_unless_told, setup, teardown),
        cmocka_unit_test_setup_teardown(who_is_there_already_is_noticed, setup, teardown),
        cmocka_unit_test_setup_teardown(an_import_is_taken_back_but_for_who_has_begun, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(a_number_that_was_erased_stays_out, setup, teardown),
        cmocka_unit_test_setup_teardown(what_goes_out_comes_in_elsewhere, setup, teardown),
        cmocka_unit_test_setup_teardown(a_consent_of_a_day_to_come_is_a_fault, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
