/* SPDX-License-Identifier: Apache-2.0 */
/* Programmes and language packs as they pass from one clinic's folder to another's. No osierd runs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/site.h"

static char *below(const Site *site, const char *name)
{
    return g_build_filename(site->root, name, NULL);
}

static char *text_of(const char *path)
{
    char *text = NULL;

    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    return text;
}

/* Replaces a part of a file. */
static void edit(const char *path, const char *from, const char *to)
{
    g_autofree char *text = text_of(path);
    g_auto(GStrv) parts = g_strsplit(text, from, 2);

    assert_int_equal(g_strv_length(parts), 2);
    g_autofree char *changed = g_strconcat(parts[0], to, parts[1], NULL);
    assert_true(g_file_set_contents(path, changed, -1, NULL));
}

static json_t *item(Site *site, const char *kind, const char *key)
{
    json_t *list = site_ask(site, "%s list", kind);
    json_t *found = json_incref(look_only(list, kind, key));

    json_decref(list);
    return found;
}

static void a_programme_goes_through_two_hands(void **state)
{
    Site *one = site_new(), *two = site_new();
    g_autofree char *file = below(one, "tall.yaml"), *again = below(two, "again.yaml");

    (void)state;
    json_decref(site_ask(one,
                         "programme export tall-and-open --out %s --by 'R. Okafor' --note "
                         "'chest first'",
                         file));
    site_fails(one, 73, "cannot be made", "programme export tall-and-open --out %s", file);
    site_fails(two, 73, "came with osier", "programme import %s", file);
    json_t *in = site_ask(two, "programme import %s --replace", file);
    look_json(in, "{\"programme\":\"tall-and-open\",\"changed\":false,\"note\":\"chest first\"}");
    json_decref(in);
    json_t *there = item(two, "programme", "tall-and-open");
    look_json(there, "{\"own\":true,\"faults\":0,\"state\":\"as it came\"}");
    json_decref(there);
    /* What is used is what was passed on, byte for byte below the head. */
    g_autofree char *own = g_build_filename(two->clinic, "programmes", "tall-and-open.yaml", NULL);
    g_autofree char *kept = text_of(own), *sent = text_of(file);
    assert_string_equal(strstr(kept, "# ----\n"), strstr(sent, "# ----\n"));
    edit(own, "title: Tall and open", "title: Tall");
    there = item(two, "programme", "tall-and-open");
    look_json(there, "{\"title\":\"Tall\",\"state\":\"changed here since it came\"}");
    json_decref(there);
    json_decref(site_ask(two, "programme export tall-and-open --out %s", again));
    in = site_ask(one, "programme import %s --replace", again);
    json_t *hands = json_object_get(in, "from");
    assert_int_equal(json_array_size(hands), 2);
    assert_non_null(strstr(json_string_value(json_array_get(hands, 0)), "R. Okafor"));
    assert_non_null(strstr(json_string_value(json_array_get(hands, 1)), "(changed)"));
    json_decref(in);
    json_decref(site_ask(one, "check-config"));
    site_free(one);
    site_free(two);
}

static void a_file_that_was_changed_on_the_way_is_told(void **state)
{
    Site *site = site_new();
    g_autofree char *file = below(site, "es.yaml");

    (void)state;
    json_decref(site_ask(site, "language export es --out %s", file));
    edit(file, "hora de estirar", "hora de estirarse");
    site_fails(site, 65, "checksum", "language import %s --replace", file);
    json_t *in = site_ask(site, "language import %s --replace --changed", file);
    look_json(in, "{\"language\":\"es\",\"changed\":true}");
    json_decref(in);
    json_t *there = item(site, "language", "es");
    assert_non_null(strstr(json_string_value(json_object_get(there, "note")), "on its way"));
    json_decref(there);
    site_free(site);
}

static void a_bad_file_tells_all_its_faults_and_changes_nothing(void **state)
{
    Site *site = site_new();
    g_autofree char *file = below(site, "bad.yaml");
    g_autofree char *err = NULL;

    (void)state;
    json_decref(site_ask(site, "programme export tall-and-open --out %s", file));
    edit(file, "      sem: 0.7", "      sem: about 1");
    edit(file, "possible: 100-230", "possible: 230-100");
    assert_int_equal(site_osier(site, NULL, &err, "programme import %s --replace --changed", file),
                     65);
    assert_non_null(strstr(err, "about 1"));
    assert_non_null(strstr(err, "230-100"));
    json_t *there = item(site, "programme", "tall-and-open");
    look_json(there, "{\"own\":false}");
    json_decref(there);
    site_fails(site, 66, "there is none", "programme export no-such --out x");
    site_fails(site, 64, "needs list", "programme import");
    assert_int_equal(site_osier(site, NULL, NULL, "language import %s", site->clinic), 65);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_programme_goes_through_two_hands),
        cmocka_unit_test(a_file_that_was_changed_on_the_way_is_told),
        cmocka_unit_test(a_bad_file_tells_all_its_faults_and_changes_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
