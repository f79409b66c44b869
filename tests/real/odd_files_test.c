/* SPDX-License-Identifier: Apache-2.0 */
/* Files at the command line: those that cannot be made, those on a full device, those whose names or letters are odd. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/settings.h"
#include "tests/support/site.h"

static int setup(void **state)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    site_settings(site, settings);
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    json_decref(site_ask(site, "client add --name 'Ada N.' --zone Europe/London --language en "
                               "--channel sms --phone +442079460001"));
    *state = site;
    return 0;
}

static int teardown(void **state)
{
    site_free(*state);
    return 0;
}

static char *the_client(Site *site)
{
    json_t *list = site_ask(site, "client list");
    char *id = look_copy(json_array_get(list, 0), "client");

    json_decref(list);
    return id;
}

/* Each writes one file or folder: @; ADA is the client. */
static const char *const WRITES[] = {
    "backup @",
    "backup --new-key @",
    "programme export tall-and-open --out @",
    "language export es --out @",
    "records export --csv --out @",
    "records export --fhir --out @",
    "records export --fhir ADA --out @",
    "records calendar ADA --out @",
    "records calendar --reviews --out @",
    "summary ADA --out @",
    "week --format pdf --out @",
    "week --format html --out @",
};

static char *fill(const char *words, const char *client, const char *path)
{
    GString *line = g_string_new(words);

    g_string_replace(line, "ADA", client, 0);
    g_string_replace(line, "@", path, 0);
    return g_string_free(line, FALSE);
}

static void a_place_where_nothing_can_be_made(void **state)
{
    Site *site = *state;
    g_autofree char *ada = the_client(site);
    g_autofree char *below = g_build_filename(site->root, "nowhere", "x", NULL);
    g_autofree char *folder = g_build_filename(site->root, "full", NULL);

    folder_room(site->root, "full");
    folder_write(folder, "there", "x", -1, 0600);
    for (size_t i = 0; i < G_N_ELEMENTS(WRITES); i++) {
        g_autofree char *line = fill(WRITES[i], ada, below);
        g_autofree char *other = fill(WRITES[i], ada, folder);
        site_fails(site, 73, below, "%s", line);
        site_fails(site, 73, folder, "%s", other);
    }
    /* a file that is there stays as it is, but for what is drawn anew each time */
    g_autofree char *there = g_build_filename(folder, "there", NULL);
    for (size_t i = 0; i < 9; i++) {
        g_autofree char *line = fill(WRITES[i], ada, there);
        site_fails(site, 73, there, "%s", line);
    }
    g_autofree char *text = NULL;
    assert_true(g_file_get_contents(there, &text, NULL, NULL));
    assert_string_equal(text, "x");
}

/* One line, and nothing stays of what was written in part, so that the same can be tried again. */
static void fails_on_a_full_device(Site *site, const char *words, const char *path)
{
    g_autofree char *script =
        g_strdup_printf("trap '' XFSZ; ulimit -f 0; \"$OSIER\" %s --clinic \"$CLINIC\" 2>&1 | "
                        "grep -v '^libgcov ' >&2",
                        words);
    g_autofree char *clear = g_strdup_printf("rm -rf '%s'", path);
    g_autofree char *err = NULL;

    site_shell(site, NULL, &err, script);
    if (!g_str_has_prefix(err, "osier: ") || strchr(err, '\n') != err + strlen(err) - 1)
        fail_msg("%s: %s", words, err);
    if (strstr(words, "records export") == NULL && g_file_test(path, G_FILE_TEST_EXISTS))
        fail_msg("%s: left a part behind", words);
    site_shell(site, NULL, NULL, clear);
}

static void a_device_that_is_full(void **state)
{
    Site *site = *state;
    g_autofree char *ada = the_client(site);
    g_autofree char *path = g_build_filename(site->root, "out", NULL);
    json_t *made = site_ask(site, "backup --new-key %s/key", site->root);
    g_autofree char *key = look_copy(made, "key");
    g_autofree char *sealed = g_strdup_printf("backup '%s' --key %s", path, key);

    json_decref(made);
    fails_on_a_full_device(site, sealed, path);
    for (size_t i = 1; i < G_N_ELEMENTS(WRITES); i++) { /* osierd itself writes the first */
        g_autofree char *line = fill(WRITES[i], ada, path);
        fails_on_a_full_device(site, line, path);
    }
}

/* A name need not be UTF-8; what is printed is a document all the same. */
static void a_name_that_is_no_utf8(void **state)
{
    Site *site = *state;
    g_autofree char *ada = the_client(site);

    for (size_t i = 0; i < G_N_ELEMENTS(WRITES); i++) {
        g_autofree char *path = g_strdup_printf("%s/%zu\xff", site->root, i);
        g_autofree char *line = fill(WRITES[i], ada, path);
        g_autofree char *out = NULL;
        if (g_str_has_prefix(line, "week --format html")) continue; /* prints nothing */
        assert_int_equal(site_osier(site, &out, NULL, "%s", line), 0);
        json_t *told = json_loads(out, 0, NULL);
        if (told == NULL || strstr(out, "\xef\xbf\xbd") == NULL) fail_msg("%s: %s", line, out);
        json_decref(told);
        assert_true(g_file_test(path, G_FILE_TEST_EXISTS));
    }
}

/* The first line is obeyed by a terminal in the name of each. */
static void letters_that_a_terminal_obeys_are_shown_as_such(void **state)
{
    static const char FHIR[] =
        "{\"resourceType\":\"Bundle\",\"entry\":["
        "{\"resource\":{\"resourceType\":\"Patient\",\"id\":\"a\",\"name\":[{\"text\":\"X "
        "\\u001b[31mY\"}],\"telecom\":[{\"system\":\"phone\",\"value\":\"12\\u001b\"}]}},"
        "{\"resource\":{\"resourceType\":\"\\u001b[31mOther\"}}]}";
    static const char *const SCRIPTS[] = {
        "\"$OSIER\" records import --csv in.csv --clinic \"$CLINIC\" 2>&1",
        "\"$OSIER\" records import --fhir in.json --clinic \"$CLINIC\" 2>&1",
        "\"$OSIER\" programme import in.yaml --changed --clinic \"$CLINIC\" 2>&1",
        "\"$OSIER\" client show \"$(printf '\\033[31m\\302\\233x')\" --clinic \"$CLINIC\" 2>&1",
    };
    Site *site = *state;

    folder_write(site->root, "in.csv",
                 "name,phone,\033[31mred,\xe2\x80\xaeturned\n\033[32mA,+442079460009,x,y\n", -1,
                 0600);
    folder_write(site->root, "in.json", FHIR, -1, 0600);
    site_shell(
        site, NULL, NULL,
        "\"$OSIER\" programme export tall-and-open --out own.yaml --clinic \"$CLINIC\";"
        "sed 's/^title: .*/title: \"\\\\e[32mgreen\"/;s/^key: .*/key: green/' own.yaml >in.yaml");
    for (size_t i = 0; i < G_N_ELEMENTS(SCRIPTS); i++) {
        g_autofree char *out = NULL;
        int code = site_shell(site, &out, NULL, SCRIPTS[i]);
        bool obeyed = strchr(out, '\033') != NULL || strstr(out, "\xc2\x9b") != NULL ||
                      strstr(out, "\xe2\x80\xae") != NULL;
        if ((code != 65 && code != 66) || obeyed || *out == '\0')
            fail_msg("%s: %d: %s", SCRIPTS[i], code, out);
    }
}

static json_t *import(Site *site, const char *options, int code)
{
    g_autofree char *file = g_build_filename(site->root, "in.csv", NULL);
    g_autofree char *out = NULL;

    assert_int_equal(site_osier(site, &out, NULL, "records import --csv %s %s", file, options),
                     code);
    json_t *document = json_loads(out, 0, NULL);
    assert_non_null(document);
    return document;
}

static void a_file_that_is_not_there(void **state)
{
    static const char *const READS[] = {
        "records import --csv none",
        "records import --fhir none",
        "programme import none",
        "language import none",
    };
    Site *site = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(READS); i++)
        site_fails(site, 66, "none: ", "%s", READS[i]);
}

static void a_map_that_leads_nowhere(void **state)
{
    static const struct {
        const char *map, *why;
    } CASES[] = {
        {"name", "write it as"},
        {"=", "there is no column"},
        {"Nam=name", "there is no column \"Nam\""},
        {"Name=nose", "\"nose\" is no field"},
        {"N\xff=name", "is no valid UTF-8"},
        {"Name=phone", "leave one out"},
    };
    Site *site = *state;

    folder_write(site->root, "in.csv", "Name,Phone\nBea K.,+442079460002\n", -1, 0600);
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *options = g_strdup_printf("--save --map '%s'", CASES[i].map);
        json_t *told = import(site, options, 65);
        g_autofree char *text = json_dumps(json_object_get(told, "faults"), JSON_ENCODE_ANY);
        g_autofree char *wanted = g_strescape(CASES[i].why, NULL);
        if (strstr(text, wanted) == NULL) fail_msg("%s: %s", CASES[i].map, text);
        look_json(told, "{\"saved\":false}");
        json_decref(told);
    }
    json_decref(import(site, "--save --map 'Name=name'", 0));
}

/* What a person reads says only what would help. */
static void what_to_do_about_a_sheet_with_faults(void **state)
{
    static const struct {
        const char *sheet, *options, *says;
    } CASES[] = {
        {"Phone\n+442079460002\n", "", "Mend the file.\n"},
        {"Name,Phone\nB,12\n", "", "or leave these rows out with --skip-faulty.\n"},
        {"Name,Phone\nB,12\nC,+442079460003\n", "--skip-faulty", "The same with --save imports"},
        {"Name,Phone\nB,12\n", "--skip-faulty --save", "there is no row that could be"},
        {"Name,Phone\nB,+442079460001\n", "--save", "or import who is alike with --keep-alike"},
        {"Name,Phone\nB,+442079460001\n", "--save", "is the phone of client"},
        {"Name,Phone\nB,+442079460001\n", "--keep-alike", "without a recorded consent"},
        {"Name,Mail,Consent\nB,b@post.example,\"email: form, R. Okafor, 2026-03-01\"\n", "",
         "1 rows would become clients: 0 by text, 1 by mail, 0 by phone"},
        {"Name,Phone,Shoe size\nD,+442079460004,41\n", "--save", "not taken: Shoe size"},
        {"Name,Phone,Shoe size\nE,+442079460005,41\n", "--save", "takes it back"},
        {"", "", "is empty: the first row must name the columns"},
        {"Name,Phone,Date of birth\nF,+442079460006,04/23/1950\n", "--dates month-first",
         "dates are read with the month first"},
    };
    Site *site = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *script =
            g_strdup_printf("\"$OSIER\" records import --csv in.csv %s --clinic \"$CLINIC\" 2>&1; "
                            "\"$OSIER\" records imports --clinic \"$CLINIC\" >imports",
                            CASES[i].options);
        g_autofree char *out = NULL;
        folder_write(site->root, "in.csv", CASES[i].sheet, -1, 0600);
        site_shell(site, &out, NULL, script);
        if (strstr(out, CASES[i].says) == NULL) fail_msg("case %zu: %s", i, out);
    }
    g_autofree char *told = site_told(site, "records imports");
    assert_non_null(strstr(told, "whole"));
    json_t *list = site_ask(site, "records imports");
    assert_int_equal(json_array_size(list), 2);
    g_autofree char *id = look_copy(json_array_get(list, 0), "import");
    json_decref(list);
    g_autofree char *undone = site_told(site, "records undo %s --by 'R. Okafor'", id);
    assert_non_null(strstr(undone, "1 clients are taken back"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_place_where_nothing_can_be_made, setup, teardown),
        cmocka_unit_test_setup_teardown(a_device_that_is_full, setup, teardown),
        cmocka_unit_test_setup_teardown(a_name_that_is_no_utf8, setup, teardown),
        cmocka_unit_test_setup_teardown(letters_that_a_terminal_obeys_are_shown_as_such, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(a_file_that_is_not_there, setup, teardown),
        cmocka_unit_test_setup_teardown(a_map_that_leads_nowhere, setup, teardown),
        cmocka_unit_test_setup_teardown(what_to_do_about_a_sheet_with_faults, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
