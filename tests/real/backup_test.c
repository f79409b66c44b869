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
#include "tests/support/settings.h"
#include "tests/support/site.h"

static Site *open_site(const char *more)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", "", more);

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
    site_fails(site, 73, "there is no folder", "backup %s/none/copy.db", site->root);
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

/* --- and back --- */

static char *planned(Site *site)
{
    json_t *list = site_ask(site, "client list");
    char *client = look_copy(json_array_get(list, 0), "client");

    json_decref(list);
    json_decref(site_ask(site, "screen %s --by 'R. Okafor' --floor yes --clear", client));
    json_decref(site_ask(site,
                         "plan set %s --programme calf-and-hamstring --at 10:00 --stage "
                         "calf-with-strap",
                         client));
    return client;
}

static int sent(Site *site, const char *kind)
{
    json_t *list = site_ask(site, "messages");
    int n = look_count(list, "kind", kind);

    json_decref(list);
    return n;
}

static void a_restored_clinic_sends_only_once_it_is_told_to(void **state)
{
    Site *old = open_site("");
    Site *fresh = site_new();
    g_autofree char *client = planned(old);
    g_autofree char *file = g_build_filename(old->root, "copy.db", NULL);
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    (void)state;
    assert_true(site_clock(old, "2026-03-02T10:01:00Z"));
    assert_int_equal(sent(old, "reminder"), 1);
    json_decref(site_ask(old, "backup %s", file));
    site_stop(old);
    site_settings(fresh, settings);
    json_decref(site_ask(fresh, "restore %s", file));
    site_fails(fresh, 73, "is there already", "restore %s", file);
    assert_int_equal(site_start(fresh, "2026-03-02T10:30:00Z"), 0);
    site_fails(fresh, 75, "is in use", "restore %s", file);
    json_t *duty = site_ask(fresh, "sender show");
    assert_true(json_is_false(json_object_get(duty, "here")));
    json_decref(duty);
    assert_true(site_clock(fresh, "2026-03-04T09:00:00Z"));
    assert_int_equal(sent(fresh, "reminder"), 1); /* the old one's */
    json_decref(site_ask(fresh, "sender take --by 'R. Okafor'"));
    assert_true(site_clock(fresh, "2026-03-04T10:01:00Z"));
    assert_int_equal(sent(fresh, "reminder"), 2);
    site_stop(fresh);
    json_decref(site_ask(fresh, "check"));
    site_free(fresh);
    site_free(old);
}

static void what_is_no_sound_copy_is_refused(void **state)
{
    Site *site = open_site("");
    Site *fresh = site_new();
    g_autofree char *file = g_build_filename(site->root, "copy.db", NULL);
    g_autofree char *sealed = g_build_filename(site->root, "copy.sealed", NULL);
    g_autofree char *secret = g_build_filename(site->root, "secret", NULL);
    g_autofree char *place = g_build_filename(fresh->clinic, "store.db", NULL);
    g_autofree char *bytes = NULL;
    gsize length;

    (void)state;
    json_t *key = site_ask(site, "backup --new-key %s", secret);
    json_decref(site_ask(site, "backup %s --key %s", sealed,
                         json_string_value(json_object_get(key, "key"))));
    json_decref(key);
    json_decref(site_ask(site, "backup %s", file));
    site_fails(fresh, 66, "is no file", "restore %s/none", site->root);
    site_fails(fresh, 64, "--key-file", "restore %s", sealed);
    site_fails(fresh, 65, "holds no key", "restore %s --key-file %s/clinic.yaml", sealed,
               fresh->clinic);
    assert_true(g_file_get_contents(file, &bytes, &length, NULL));
    assert_true(g_file_set_contents(file, bytes, (gssize)length / 2, NULL));
    site_fails(fresh, 65, "restore", "restore %s", file);
    assert_true(g_file_set_contents(file, "no copy at all", -1, NULL));
    site_fails(fresh, 65, "not a store", "restore %s", file);
    assert_false(g_file_test(place, G_FILE_TEST_EXISTS));
    json_decref(site_ask(fresh, "restore %s --key-file %s", sealed, secret));
    assert_true(g_file_test(place, G_FILE_TEST_EXISTS));
    site_free(fresh);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_copy_by_command_is_checked_and_leaves_nothing_behind),
        cmocka_unit_test(a_sealed_copy_is_read_with_its_key_alone),
        cmocka_unit_test(each_night_makes_a_copy_and_the_oldest_go),
        cmocka_unit_test(a_night_without_a_copy_is_an_alert),
        cmocka_unit_test(a_restored_clinic_sends_only_once_it_is_told_to),
        cmocka_unit_test(what_is_no_sound_copy_is_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
