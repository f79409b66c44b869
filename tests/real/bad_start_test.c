/* SPDX-License-Identifier: Apache-2.0 */
/* Folders, settings and stores that are not as they should be. */
#define _GNU_SOURCE /* prlimit */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define CLOCK "2026-03-02T08:05:00Z"

static char *settings_of(const Site *site)
{
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);
    char *text = NULL;

    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    return text;
}

/* The text with the first such words written otherwise (g_free). */
static char *instead(const char *text, const char *words, const char *other)
{
    const char *at = strstr(text, words);

    assert_non_null(at);
    return g_strdup_printf("%.*s%s%s", (int)(at - text), text, other, at + strlen(words));
}

/* osierd does not start, ends with that code, and the only line about it holds the words. */
static void does_not_start(Site *site, const char *clock, int code, const char *holds)
{
    int ended = site_start(site, clock);
    g_autofree char *said = site_said(site);
    const char *end = strchr(said, '\n');

    if (ended != code || strstr(said, holds) == NULL || end == NULL || end[1] != '\0')
        fail_msg("wanted %d and one line with '%s', got %d: %s", code, holds, ended, said);
}

/* --- settings --- */

static void every_fault_has_its_line(void **state)
{
    static const struct {
        const char *words, *other, *holds;
    } FAULTS[] = {
        {"zone: Europe/London", "zone: Europe/Lundun", "Europe/Lundun"},
        {"nudge_after: 4h", "nudge_after: 4 hours", "4 hours"},
        {"pain_now: 7", "pain_now: 17", "17"},
        {"emergency:", "emergancy:", "emergency"}, /* tells the nearest known key */
        {"country_code: \"44\"", "country_code: \"44", "double-quoted"},
        {"phone: \"+442079460100\"", "phone: \"12\"", "12"},
        {"kind: spool", "kind: pigeon", "pigeon"},
        {"mon-fri: \"08:30-17:30\"", "mon-fri: \"17:30-08:30\"", "17:30-08:30"},
        {"again: 30min", "again: 30min\nagain: 1h", "again"},
    };
    Site *site = site_new();
    g_autofree char *good = settings_of(site);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(FAULTS); i++) {
        g_autofree char *bad = instead(good, FAULTS[i].words, FAULTS[i].other);
        g_autofree char *out = NULL;
        site_settings(site, bad);
        assert_int_equal(site_osier(site, &out, NULL, "check-config"), 78);
        json_t *document = json_loads(out, 0, NULL);
        json_t *fault = json_array_get(json_object_get(document, "faults"), 0);
        if (fault == NULL || strstr(out, FAULTS[i].holds) == NULL)
            fail_msg("%s: %s", FAULTS[i].other, out);
        assert_true(json_integer_value(json_object_get(fault, "line")) > 1);
        assert_true(json_integer_value(json_object_get(fault, "column")) > 0);
        json_decref(document);
        assert_int_equal(site_start(site, CLOCK), 78);
    }
    site_free(site);
}

static void secrets_must_be_kept_close(void **state)
{
    Site *site = site_new();
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));
    g_autofree char *key = g_build_filename(site->clinic, "secrets", "texts.key", NULL);
    g_autofree char *out = NULL;

    (void)state;
    site_use(site, gateway, SPEAKS_JSON, site_free_port());
    assert_int_equal(g_chmod(key, 0644), 0);
    assert_int_equal(site_osier(site, &out, NULL, "check-config"), 78);
    assert_non_null(strstr(out, "texts.key"));
    assert_null(strstr(out, "key-for-tests"));
    assert_int_equal(site_start(site, CLOCK), 78);
    assert_int_equal(g_unlink(key), 0);
    assert_int_equal(site_start(site, CLOCK), 78);
    site_free(site);
    stand_in_free(gateway);
}

static void a_fault_on_sighup_changes_nothing(void **state)
{
    Site *site = site_new();
    g_autofree char *good = settings_of(site);
    g_autofree char *bad = instead(good, "pain_now: 7", "pain_now: 17");
    g_autofree char *renamed = instead(good, "name: Your Clinic", "name: Mill House");
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);

    (void)state;
    assert_int_equal(site_start(site, CLOCK), 0);
    for (int i = 0; i < 2; i++) {
        site_settings(site, i == 0 ? bad : renamed);
        site_reload(site);
        g_autofree char *said = site_said(site);
        assert_non_null(strstr(said, i == 0 ? "stay in force" : "settings.taken"));
        json_t *status = site_ask(site, "status");
        look_is(status, "clinic", i == 0 ? "Your Clinic" : "Mill House");
        json_decref(status);
    }
    assert_int_equal(site_stop(site), 0);
    site_free(site);
}

/* --- the store and the socket --- */

static void nobody_is_there(void **state)
{
    Site *site = site_new();

    (void)state;
    site_fails(site, 69, "osierd", "status");
    site_fails(site, 69, "osierd", "client list");
    site_fails(site, 66, "store", "check");
    site_free(site);
}

static void a_second_osierd_finds_the_store_in_use(void **state)
{
    Site *site = site_new();
    Site second = *site;

    (void)state;
    assert_int_equal(site_start(site, CLOCK), 0);
    second.root = folder_new(); /* so that what it says goes elsewhere */
    does_not_start(&second, CLOCK, 75, "in use");
    folder_remove(second.root);
    site_fails(site, 75, "stop osierd first", "check");
    json_decref(site_ask(site, "status")); /* the first is as well as before */
    assert_int_equal(site_stop(site), 0);
    site_free(site);
}

static void a_store_that_is_none(void **state)
{
    Site *site = site_new();

    (void)state;
    folder_write(site->clinic, "store.db", "Dear diary, today it rained.", -1, 0600);
    does_not_start(site, CLOCK, 65, "not a store");
    site_fails(site, 66, "not a store", "check");
    g_autofree char *path = g_build_filename(site->clinic, "store.db", NULL);
    g_autofree char *kept = NULL;
    assert_true(g_file_get_contents(path, &kept, NULL, NULL));
    assert_string_equal(kept, "Dear diary, today it rained."); /* nobody wrote over it */
    assert_int_equal(g_unlink(path), 0);
    assert_int_equal(g_mkdir(path, 0700), 0);
    int code = site_start(site, CLOCK);
    assert_true(code == 65 || code == 73);
    site_free(site);
}

/* Who has stopped stands in the file: a new schema would write to them again. */
static void a_schema_is_not_begun_beside_a_store(void **state)
{
    Site *site = site_new();
    g_autofree char *good = settings_of(site);
    g_autofree char *elsewhere = g_strdup_printf(
        "%s\nstore: {kind: postgres, connect: \"host=/nowhere dbname=osier\", schema: saltmarsh}\n",
        good);

    (void)state;
    folder_write(site->clinic, "store.db", "whatever it holds", -1, 0600);
    site_settings(site, elsewhere);
    does_not_start(site, CLOCK, 77, "store.db");
    site_free(site);
}

static void a_rehearsals_store_is_not_opened_live(void **state)
{
    Site *site = site_new();

    (void)state;
    assert_int_equal(site_start(site, CLOCK), 0);
    assert_int_equal(site_stop(site), 0);
    does_not_start(site, NULL, 77, "rehearsal");
    g_autofree char *path = g_build_filename(site->clinic, "store.db", NULL);
    assert_int_equal(g_unlink(path), 0);
    assert_int_equal(site_start(site, NULL), 0);
    site_fails(site, 78, "clock", "clock to 2026-03-02T09:00:00Z");
    assert_int_equal(site_stop(site), 0);
    does_not_start(site, CLOCK, 77, "live");
    site_free(site);
}

static void a_folder_too_long_for_a_socket(void **state)
{
    Site *site = site_new();
    g_autofree char *name = g_strnfill(120, 'n');
    g_autofree char *longer = g_build_filename(site->root, name, NULL);
    g_autofree char *before = g_steal_pointer(&site->clinic);

    (void)state;
    assert_int_equal(g_rename(before, longer), 0);
    site->clinic = g_strdup(longer);
    does_not_start(site, CLOCK, 73, "a socket's may have 107");
    site_fails(site, 64, "too long", "status");
    site_free(site);
}

static void a_clock_that_is_none(void **state)
{
    Site *site = site_new();

    (void)state;
    does_not_start(site, "next tuesday", 64, "next tuesday");
    site_free(site);
}

/* It dies of a signal that dumps core, with every limit lifted: keys and the record stay out of the file (core(5)).
 * Not SIGQUIT: who is started in the background of a shell may have been told to ignore that. */
static void no_core_is_dumped(void **state)
{
    Site *site = site_new();
    const struct rlimit all = {RLIM_INFINITY, RLIM_INFINITY};
    int status = 0;

    (void)state;
    site_start(site, "2026-03-02T07:00:00Z");
    assert_int_equal(prlimit(site->pid, RLIMIT_CORE, &all, NULL), 0);
    assert_int_equal(kill(site->pid, SIGABRT), 0);
    assert_int_equal(waitpid(site->pid, &status, 0), site->pid);
    site->pid = 0;
    assert_true(WIFSIGNALED(status));
    assert_int_equal(WTERMSIG(status), SIGABRT);
    assert_false(WCOREDUMP(status));
    site_free(site);
}

static void *step_on(void *context)
{
    long status;

    json_decref(site_call(context, "POST", "/clock",
                          json_pack("{s:s}", "to", "2026-03-02T09:00:00Z"), &status));
    return NULL;
}

/* Told to stop while it steps and a gateway takes its time: it finishes what is in flight. */
static void a_stop_in_the_midst_of_a_step(void **state)
{
    Site *site = site_new();
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));

    (void)state;
    site_use(site, gateway, SPEAKS_JSON, site_free_port());
    assert_int_equal(site_start(site, CLOCK), 0);
    g_autofree char *ada = site_client(site, "+442079460001", "08:30");
    assert_true(site_clock(site, "2026-03-02T08:29:00Z"));
    int before = stand_in_count(gateway);
    stand_in_slow(gateway, 300);
    GThread *stepping = g_thread_new("stepping", step_on, site);
    while (stand_in_count(gateway) == before) /* until the reminder has arrived there */
        g_usleep(1000);
    assert_int_equal(site_stop(site), 0);
    g_thread_join(stepping);
    stand_in_slow(gateway, 0);
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    json_t *messages = site_ask(site, "messages --client %s", ada);
    look_is(look_only(messages, "kind", "reminder"), "fate", "accepted");
    json_decref(messages);
    site_free(site);
    stand_in_free(gateway);
}

/* While it finishes what is in flight it takes nothing new: where callers come one after the other it would not end. */
static void who_asks_during_a_stop_is_turned_away(void **state)
{
    Site *site = site_new();
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));
    int port = site_free_port();
    long status = 200;

    (void)state;
    site_use(site, gateway, SPEAKS_JSON, port);
    assert_int_equal(site_start(site, CLOCK), 0);
    g_autofree char *ada = site_client(site, "+442079460001", "08:30");
    assert_true(site_clock(site, "2026-03-02T08:29:00Z"));
    int before = stand_in_count(gateway);
    stand_in_answer(gateway, ANSWER_NOTHING, -1); /* that is waited for */
    GThread *stepping = g_thread_new("stepping", step_on, site);
    while (stand_in_count(gateway) == before)
        g_usleep(1000);
    kill(site->pid, SIGTERM);
    json_t *answer = NULL;
    while (status == 200) {
        json_decref(answer);
        answer = site_call(site, "GET", "/status", NULL, &status);
    }
    assert_int_equal(status, 503);
    look_is(json_object_get(answer, "error"), "what", "osierd");
    json_decref(answer);
    assert_int_equal(site_post(port, "/in/texts", NULL, "{}", 2), 503);
    site_kill(site);
    g_thread_join(stepping);
    site_free(site);
    stand_in_free(gateway);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_fault_has_its_line),
        cmocka_unit_test(secrets_must_be_kept_close),
        cmocka_unit_test(a_fault_on_sighup_changes_nothing),
        cmocka_unit_test(nobody_is_there),
        cmocka_unit_test(a_second_osierd_finds_the_store_in_use),
        cmocka_unit_test(a_store_that_is_none),
        cmocka_unit_test(a_schema_is_not_begun_beside_a_store),
        cmocka_unit_test(a_rehearsals_store_is_not_opened_live),
        cmocka_unit_test(a_folder_too_long_for_a_socket),
        cmocka_unit_test(a_clock_that_is_none),
        cmocka_unit_test(no_core_is_dumped),
        cmocka_unit_test(a_stop_in_the_midst_of_a_step),
        cmocka_unit_test(who_asks_during_a_stop_is_turned_away),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
