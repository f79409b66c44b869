/* SPDX-License-Identifier: Apache-2.0 */
/* Watching a running osierd: the log, the figures, the probe, and the status as it is printed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"
#include "tests/support/settings.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"

/* A client, a reminder, a reply with a warning sign. */
static StandIn *live_a_morning(Site *site)
{
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));

    site_use(site, gateway, SPEAKS_JSON, site_free_port());
    assert_int_equal(site_start(site, "2026-03-02T08:05:00Z"), 0);
    g_autofree char *ada = site_client(site, ADA, "08:30");
    assert_true(site_clock(site, "2026-03-02T08:31:00Z"));
    stand_in_put(gateway, ADA, "done 5. but chest tightness since breakfast", NULL);
    assert_true(site_clock(site, "2026-03-02T08:33:00Z"));
    return gateway;
}

static void the_log_has_ids_and_nobody_in_it(void **state)
{
    static const char *const NOBODY[] = {"Ada",    "442079460001",   "7946",
                                         "chest",  "breakfast",      " 999",
                                         "Okafor", "clinic.example", NULL};
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);
    json_t *alerts = site_ask(site, "alerts");
    json_t *clients = site_ask(site, "client list");
    g_autofree char *alert = look_copy(json_array_get(alerts, 0), "alert");
    g_autofree char *client = look_copy(json_array_get(clients, 0), "client");

    (void)state;
    g_autofree char *said = site_said(site);
    g_autofree char *opened = g_strdup_printf("event=alert.opened alert=%s class=now", alert);
    assert_non_null(strstr(said, opened));
    assert_non_null(strstr(said, "event=message.settled message="));
    assert_non_null(strstr(said, "fate=accepted gateway=texts"));
    assert_non_null(strstr(said, "event=reply.received reply="));
    assert_null(strstr(said, client));
    for (size_t i = 0; NOBODY[i] != NULL; i++)
        if (strstr(said, NOBODY[i]) != NULL) fail_msg("the log holds '%s':\n%s", NOBODY[i], said);
    json_decref(alerts);
    json_decref(clients);
    site_free(site);
    stand_in_free(gateway);
}

static void figures_and_probe_tell_the_same(void **state)
{
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);
    g_autofree char *figures = NULL;
    long status;

    (void)state;
    figures = site_told(site, "metrics");
    assert_non_null(strstr(figures, "\nosier_clients 1\n"));
    assert_non_null(strstr(figures, "\nosier_alerts_open{class=\"now\"} 1\n"));
    assert_non_null(strstr(figures, "\nosier_alerts_opened_total{class=\"now\"} 1\n"));
    assert_non_null(strstr(figures, "\nosier_sessions_asked_total 1\n"));
    assert_non_null(strstr(figures, "\nosier_replies_received_total 1\n"));
    assert_non_null(strstr(figures, "\nosier_gateway_well{gateway=\"texts\"} 1\n"));
    assert_true(g_str_has_suffix(figures, "\n# EOF\n"));
    assert_null(strstr(figures, "Ada"));
    assert_null(strstr(figures, "7946"));
    json_t *probe = site_call(site, "GET", "/healthz", NULL, &status);
    assert_int_equal(status, 200);
    look_is(probe, "state", "ill"); /* somebody waits for a clinician now */
    json_decref(probe);
    json_t *whole = site_ask(site, "status");
    look_is(whole, "state", "ill");
    look_is(whole, "local", "Monday 2 March 2026, 08:33");
    json_decref(whole);
    site_free(site);
    stand_in_free(gateway);
}

/* How many families a strict reader of OpenMetrics that is none of ours finds; it stops at the first fault. */
static int families_read(const char *file)
{
    static const char PROGRAM[] =
        "import sys\n"
        "from prometheus_client.openmetrics.parser import text_string_to_metric_families as read\n"
        "print(len(list(read(open(sys.argv[1]).read()))))\n";
    char *argv[] = {(char *)"/usr/bin/python3", (char *)"-c", (char *)PROGRAM, (char *)file, NULL};
    g_autofree char *out = NULL;
    g_autofree char *err = NULL;
    int status;

    assert_true(g_spawn_sync(NULL, argv, NULL, 0, NULL, NULL, &out, &err, &status, NULL));
    if (status != 0) fail_msg("%s", err);
    return atoi(out);
}

static void a_reader_of_others_takes_the_figures(void **state)
{
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);
    g_autofree char *file = g_build_filename(site->root, "figures", NULL);
    g_autofree char *figures = NULL;

    (void)state;
    figures = site_told(site, "metrics");
    assert_true(g_file_set_contents(file, figures, -1, NULL));
    assert_true(families_read(file) > 20);
    site_free(site);
    stand_in_free(gateway);
}

static void watching_changes_nothing(void **state)
{
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);
    long status;

    (void)state;
    json_decref(site_call(site, "POST", "/metrics", NULL, &status));
    assert_int_equal(status, 404);
    json_decref(site_call(site, "POST", "/healthz", NULL, &status));
    assert_int_equal(status, 404);
    site_free(site);
    stand_in_free(gateway);
}

static void without_a_daemon_there_is_nothing_to_watch(void **state)
{
    Site *site = site_new();

    (void)state;
    site_fails(site, 69, "is not running", "status");
    g_autofree char *out = NULL;
    assert_int_equal(site_shell(site, &out, NULL, "\"$OSIER\" metrics --clinic \"$CLINIC\""), 69);
    site_fails(site, 64, "OpenMetrics text alone", "metrics"); /* with --json */
    site_fails(site, 64, "one word too many", "metrics now");
    site_free(site);
}

static void tells(const char *told, const char *words)
{
    if (strstr(told, words) == NULL) fail_msg("'%s' is not told:\n%s", words, told);
}

static void the_command_line_speaks_to_people(void **state)
{
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);
    json_t *alerts = site_ask(site, "alerts");
    g_autofree char *code = look_copy(json_array_get(alerts, 0), "code");
    g_autofree char *client = look_copy(json_array_get(alerts, 0), "client");
    g_autofree char *told = site_told(site, "alerts");
    g_autofree char *who = site_told(site, "client show %s", client);
    g_autofree char *why = site_told(site, "why %s", code);
    g_autofree char *messages = site_told(site, "messages");
    json_t *list = site_ask(site, "messages");
    g_autofree char *reminder = look_copy(look_only(list, "kind", "reminder"), "message");

    (void)state;
    json_decref(list);
    tells(told, "Mon 2 Mar 2026, 08:32  Ada");
    tells(told, "      warning: heart, \"chest tightness since breakfast\"");
    tells(who, ": held\n");
    tells(who, "nothing is sent, since:\n");
    tells(who, "plan             calf-and-hamstring, stage ");
    assert_null(strchr(who, '{'));
    tells(why, "(times of Europe/London)");
    tells(why, "\n2026-03-02\n");
    tells(why, "  08:32  alert opened, by osier\n");
    assert_null(strchr(why, '{'));
    tells(messages, "reminder to " ADA "    accepted");
    g_autofree char *taken = site_told(site, "alert take %s --by 'R. Okafor'", code);
    g_autofree char *report = site_told(
        site, "report %s --date 2026-03-02 --done partly --intensity 3 --by 'R. Okafor'", client);
    g_autofree char *screen =
        site_told(site, "screen %s --by 'R. Okafor' --floor yes --clear", client);
    g_autofree char *replies = site_told(site, "replies");
    g_autofree char *status = site_told(site, "status");
    g_autofree char *sent = site_told(site, "why %s", reminder);
    tells(taken, "Mon 2 Mar 2026, 08:32  Ada");
    tells(taken, "taken by R. Okafor\n");
    tells(report, ": written down as done partly; intensity 3\n");
    assert_null(strchr(screen, ':')); /* no entry of the ledger by its number */
    tells(replies, "    read as: done yes; intensity 5; warning heart");
    assert_null(strstr(replies, ";\n"));
    tells(status, "last at Mon 2 Mar 2026, 08:33\n");
    tells(sent, "session time: 2026-03-02 08:30 UTC\n");
    json_decref(alerts);
    site_free(site);
    stand_in_free(gateway);
}

static void a_sign_is_called_about_once(void **state)
{
    Site *site = site_new();
    StandIn *gateway = live_a_morning(site);

    (void)state;
    assert_true(site_clock(site, "2026-03-04T09:00:00Z"));
    json_t *open = site_ask(site, "alerts");
    assert_int_equal(look_count(open, "kind", "heart"), 1);
    assert_int_equal(look_count(open, "kind", "unread"), 0); /* its own alert waits still */
    g_autofree char *alert = look_copy(look_only(open, "kind", "heart"), "alert");
    json_decref(open);
    json_decref(site_ask(site, "alert close %s --outcome refer --by Okafor", alert));
    assert_true(site_clock(site, "2026-03-06T09:00:00Z"));
    json_t *later = site_ask(site, "alerts --all"), *unread = site_ask(site, "unread");
    assert_int_equal(look_count(later, "kind", "unread"), 0);
    assert_int_equal(json_array_size(unread), 0); /* whoever took the alert has read the reply */
    json_decref(later);
    json_decref(unread);
    site_free(site);
    stand_in_free(gateway);
}

/* Somebody on duty without a number, in summer. */
static void a_call_by_mail_says_when_by_the_clinics_clock(void **state)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    (void)state;
    site_settings(site, settings);
    site_replace(site, "sms: \"+442079460190\"", "email: rok@clinic.example");
    assert_int_equal(site_start(site, "2026-07-06T09:00:00Z"), 0);
    g_autofree char *ada = site_client(site, ADA, "18:30");
    json_decref(site_ask(site, "alert open %s --kind fall --words x --by 'R. Okafor'", ada));
    assert_true(site_clock(site, "2026-07-06T09:05:00Z"));
    json_t *messages = site_ask(site, "messages");
    json_t *mail = look_only(messages, "to", "rok@clinic.example");
    const char *text = json_string_value(json_object_get(mail, "text"));
    assert_non_null(strstr(text, "Since 2026-07-06, 10:00 (Europe/London), and"));
    json_decref(messages);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_log_has_ids_and_nobody_in_it),
        cmocka_unit_test(figures_and_probe_tell_the_same),
        cmocka_unit_test(a_reader_of_others_takes_the_figures),
        cmocka_unit_test(watching_changes_nothing),
        cmocka_unit_test(the_command_line_speaks_to_people),
        cmocka_unit_test(a_call_by_mail_says_when_by_the_clinics_clock),
        cmocka_unit_test(a_sign_is_called_about_once),
        cmocka_unit_test(without_a_daemon_there_is_nothing_to_watch),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
