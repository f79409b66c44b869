/* SPDX-License-Identifier: Apache-2.0 */
/* Copies of a clinic at work: by command, sealed, and night after night. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/seal/seal.h"
#include "adapters/store/store_sqlite.h"
#include "tests/support/json_look.h"
#include "tests/support/site.h"

static char *clinic_settings(const char *more)
{
    return g_strconcat("clinic:\n  name: Withy Lane\n  zone: Europe/London\n  language: en\n"
                       "  phone: \"+442079460100\"\n  emergency: \"999\"\n"
                       "  hours: {mon-fri: \"08:30-17:30\"}\n"
                       "  digest: {to: [desk@clinic.example]}\n"
                       "duty: [{name: R. Okafor, sms: \"+442079460190\"}]\n"
                       "gateways: {spool: {kind: spool}}\n",
                       more, NULL);
}

static Site *open_site(const char *more)
{
    Site *site = site_new();
    g_autofree char *settings = clinic_settings(more);

    site_settings(site, settings);
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    json_t *added = site_ask(site, "client add --name 'Ada N.' --zone Europe/London --channel sms "
                                   "--phone +442079460001 --consent 'sms: signed form, R. Okafor, "
                                   "2026-03-01'");
    json_decref(added);
    return site;
}

static int events_in(const char *file)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;

    if (store_sqlite_check(file, false, findings, &events, &why) != OPEN_OK) fail_msg("%s", why);
    assert_int_equal(findings->len, 0);
    return (int)events;
}

static void a_copy_by_command_is_checked_and_leaves_nothing_behind(void **state)
{
    Site *site = open_site("");
    g_autofree char *file = g_build_filename(site->root, "copy.db", NULL);
    g_autofree char *folder = g_build_filename(site->clinic, "backups", NULL);

    (void)state;
    json_t *made = site_ask(site, "backup %s", file);
    look_is(made, "file", file);
    int events = (int)json_integer_value(json_object_get(made, "events"));
    assert_true(events > 1);
    assert_int_equal(events_in(file), events);
    json_decref(made);
    assert_int_equal(g_rmdir(folder), 0); /* empty */
    site_fails(site, 73, "is there already", "backup %s", file);
    site_fails(site, 73, "No such file", "backup %s/none/copy.db", site->root);
    site_fails(site, 65, "is no key", "backup %s/other.db --key osier-seal-none", site->root);
    site_fails(site, 64, "needs one file", "backup");
    site_stop(site);
    site_fails(site, 69, "is not running", "backup %s/other.db", site->root);
    site_free(site);
}

static void a_sealed_copy_is_read_with_its_key_alone(void **state)
{
    Site *site = open_site("");
    g_autofree char *secret_file = g_build_filename(site->root, "secret", NULL);
    g_autofree char *file = g_build_filename(site->root, "copy.sealed", NULL);
    g_autofree char *opened = g_build_filename(site->root, "opened.db", NULL);
    g_autofree char *secret = NULL;
    g_autofree char *bytes = NULL;
    gsize length;

    (void)state;
    json_t *key = site_ask(site, "backup --new-key %s", secret_file);
    json_t *made =
        site_ask(site, "backup %s --key %s", file, json_string_value(json_object_get(key, "key")));
    json_decref(key);
    json_decref(made);
    assert_true(g_file_get_contents(file, &bytes, &length, NULL));
    assert_null(g_strstr_len(bytes, (gssize)length, "+442079460001"));
    assert_true(g_file_get_contents(secret_file, &secret, NULL, NULL));
    char *problem = seal_open_file(file, opened, g_strchomp(secret));
    if (problem != NULL) fail_msg("%s", problem);
    assert_true(events_in(opened) > 1);
    site_fails(site, 73, "File exists", "backup --new-key %s", secret_file);
    site_free(site);
}

static int by_name(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static GPtrArray *nights(const Site *site)
{
    g_autofree char *folder = g_build_filename(site->clinic, "backups", NULL);
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    GDir *dir = g_dir_open(folder, 0, NULL);
    const char *name;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL)
        g_ptr_array_add(names, g_strdup(name));
    if (dir != NULL) g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    return names;
}

static void each_night_makes_a_copy_and_the_oldest_go(void **state)
{
    Site *site = open_site("backup: {at: \"03:00\", keep: 2}\n");

    (void)state;
    for (int day = 3; day < 7; day++) {
        g_autofree char *to = g_strdup_printf("2026-03-%02dT04:00:00Z", day);
        assert_true(site_clock(site, to));
    }
    g_autoptr(GPtrArray) names = nights(site);
    assert_int_equal(names->len, 2);
    assert_string_equal(names->pdata[0], "osier-20260305T030000Z.db");
    assert_string_equal(names->pdata[1], "osier-20260306T030000Z.db");
    g_autofree char *last =
        g_build_filename(site->clinic, "backups", (const char *)names->pdata[1], NULL);
    assert_true(events_in(last) > 1);
    json_t *status = site_ask(site, "status");
    look_is(json_object_get(status, "backup"), "at", "2026-03-06T03:00:00Z");
    json_decref(status);
    json_t *alerts = site_ask(site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "backup"), 0);
    json_decref(alerts);
    site_free(site);
}

static void a_night_without_a_copy_is_an_alert(void **state)
{
    Site *site = open_site("backup: {at: \"03:00\"}\n");
    g_autofree char *folder = g_build_filename(site->clinic, "backups", NULL);

    (void)state;
    assert_true(g_file_set_contents(folder, "in the way", -1, NULL));
    assert_true(site_clock(site, "2026-03-04T04:00:00Z"));
    json_t *alerts = site_ask(site, "alerts");
    const json_t *alert = look_only(alerts, "kind", "backup"); /* two nights, one matter */
    assert_non_null(alert);
    look_is(alert, "class", "today");
    json_decref(alerts);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_copy_by_command_is_checked_and_leaves_nothing_behind),
        cmocka_unit_test(a_sealed_copy_is_read_with_its_key_alone),
        cmocka_unit_test(each_night_makes_a_copy_and_the_oldest_go),
        cmocka_unit_test(a_night_without_a_copy_is_an_alert),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
