/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway that is a program: the example of docs/program-gateway.md, and programs that die, hang, flood and lie. By the
 * real clock, since none is started while the clock is made up. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"
#define HELLO "echo '{\"type\":\"hello\",\"version\":1}'\n"
#define PATIENCE_MS 60000

static const char YAML[] = "clinic:\n"
                           "  name: Reedbank Physiotherapy\n"
                           "  zone: Europe/London\n"
                           "  language: en\n"
                           "  phone: \"+442079460100\"\n"
                           "  emergency: \"999\"\n"
                           "  hours: {mon-fri: \"08:30-17:30\"}\n"
                           "  quiet: \"%02d:00-%02d:01\"\n"
                           "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
                           "duty:\n"
                           "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
                           "gateways:\n"
                           "  modem: {kind: program, command: [./modem], answer: 1s%s}\n";

static Site *site_with(const char *script, const char *more, const char *clock)
{
    Site *site = site_new();
    g_autoptr(GDateTime) now = g_date_time_new_now_utc();
    int far = (g_date_time_get_hour(now) + 12) % 24; /* never now, whatever the hour */
    g_autofree char *yaml = g_strdup_printf(YAML, far, far, more);
    g_autofree char *path = g_build_filename(site->clinic, "modem", NULL);

    g_assert_true(g_file_set_contents(path, script, -1, NULL));
    g_chmod(path, 0700);
    site_settings(site, yaml);
    assert_int_equal(site_start(site, clock), 0);
    return site;
}

/* The program of the gateway, as status shows it (json_decref). */
static json_t *program_of(Site *site)
{
    json_t *status = site_ask(site, "status");
    json_t *gateway = json_array_get(json_object_get(status, "gateways"), 0);
    json_t *program = json_incref(json_object_get(gateway, "program"));

    json_decref(status);
    return program;
}

static char *fate_of(Site *site)
{
    json_t *messages = site_ask(site, "messages");
    char *fate = look_copy(look_only(messages, "kind", "welcome"), "fate");

    json_decref(messages);
    return fate;
}

typedef char *Look(Site *site);

/* Looks again and again until it sees those words. */
static void sees(Site *site, Look *look, const char *words)
{
    g_autofree char *seen = NULL;

    for (int waited = 0; waited < PATIENCE_MS; waited += 100) {
        g_free(seen);
        seen = look(site);
        if (seen != NULL && strstr(seen, words) != NULL) return;
        g_usleep(100000);
    }
    fail_msg("%s was seen in place of %s", seen != NULL ? seen : "nothing", words);
}

static char *problem_of(Site *site)
{
    json_t *program = program_of(site);
    char *problem = g_strdup(json_string_value(json_object_get(program, "problem")));

    json_decref(program);
    return problem;
}

static char *state_of(Site *site)
{
    json_t *program = program_of(site);
    char *text = look_copy(program, "state");

    json_decref(program);
    return text;
}

static char *replies_of(Site *site)
{
    json_t *replies = site_ask(site, "replies");
    char *text = json_dumps(replies, JSON_COMPACT);
    char *copy = g_strdup(text);

    free(text);
    json_decref(replies);
    return copy;
}

static char *alerts_of(Site *site)
{
    json_t *alerts = site_ask(site, "alerts");
    char *kinds = g_strdup(look_count(alerts, "kind", "gateway") == 1 ? "one" : "not one");

    json_decref(alerts);
    return kinds;
}

static char *said_of(Site *site)
{
    return site_said(site);
}

static char *inbox_of(Site *site)
{
    g_autofree char *path = g_build_filename(site->clinic, "inbox", "first", NULL);

    return g_strdup(g_file_test(path, G_FILE_TEST_EXISTS) ? "there" : "gone");
}

static char *example(void)
{
    g_autofree char *page = NULL;

    g_assert_true(g_file_get_contents("docs/program-gateway.md", &page, NULL, NULL));
    const char *begin = strstr(page, "```sh\n") + strlen("```sh\n");
    g_autofree char *script = g_strndup(begin, (gsize)(strstr(begin, "```") - begin));
    g_auto(GStrv) parts = g_strsplit(script, "sleep 10", 2);
    assert_int_equal(g_strv_length(parts), 2);
    return g_strjoinv("sleep 1", parts);
}

static void the_example_of_the_page_sends_and_receives(void **state)
{
    g_autofree char *script = example();
    Site *site = site_with(script, ", takes_key: true", NULL);

    (void)state;
    sees(site, state_of, "ready");
    g_autofree char *ada = site_client(site, ADA, "08:30");
    sees(site, fate_of, "accepted");
    json_t *messages = site_ask(site, "messages");
    json_t *welcome = look_only(messages, "kind", "welcome");
    g_autofree char *path = g_build_filename(
        site->clinic, "outbox", json_string_value(json_object_get(welcome, "message")), NULL);
    assert_true(g_file_test(path, G_FILE_TEST_EXISTS));
    look_is(welcome, "gateway", "modem");
    json_decref(messages);
    g_autofree char *letter = g_build_filename(site->clinic, "inbox", "first", NULL);
    g_assert_true(g_file_set_contents(letter, ADA "\nI said \"done\", 4\n", -1, NULL));
    sees(site, replies_of, "I said \\\"done\\\", 4");
    sees(site, inbox_of, "gone"); /* once it is on disk */
    site_free(site);
}

static void the_example_passes_the_trial(void **state)
{
    g_autofree char *script = example();
    Site *site = site_with(script, "", NULL);
    g_autofree char *out = NULL;

    (void)state;
    assert_int_equal(site_osier(site, &out, NULL, "check-program --takes-key ./modem"), 0);
    assert_non_null(strstr(out, "\"good\":true,\"checks\""));
    g_free(out);
    assert_int_equal(site_osier(site, &out, NULL, "check-program --at-once 3 ./modem"), 0);
    assert_non_null(strstr(out, "several messages at once get a fate each"));
    assert_int_equal(site_osier(site, NULL, NULL, "check-program --at-once 99 ./modem"), 64);
    assert_int_equal(site_osier(site, NULL, NULL, "check-program --incoming -1 ./modem"), 64);
    assert_int_equal(site_osier(site, NULL, NULL, "check-program /bin/false"), 65);
    assert_int_equal(site_osier(site, NULL, NULL, "check-program ./nothing"), 66);
    site_free(site);
}

/* What the trial says of a script with those words before it. */
static void trial_says(const char *script, const char *words, const char *finding)
{
    Site *site = site_new();
    g_autofree char *path = g_build_filename(site->clinic, "modem", NULL);
    g_autofree char *out = NULL;

    g_assert_true(g_file_set_contents(path, script, -1, NULL));
    g_chmod(path, 0700);
    site_osier(site, &out, NULL, "check-program %s ./modem", words);
    if (strstr(out, finding) == NULL) fail_msg("%s", out);
    site_free(site);
}

#define ANSWERS                                                                                    \
    "  case $line in *health*) echo '{\"type\":\"health\"}';; *send*)\n"                           \
    "    id=$(printf '%s\\n' \"$line\" | sed -n 's/.*\"id\":\"\\([^\"]*\\)\".*/\\1/p')\n"          \
    "    printf '{\"type\":\"fate\",\"id\":\"%s\",\"fate\":\"accepted\"}\\n' \"$id\";;\n"
#define LETTER "'{\"type\":\"incoming\",\"id\":\"7\",\"from\":\"" ADA "\",\"text\":\"hello\"}'"

static void the_trial_takes_what_comes_in(void **state)
{
    (void)state;
    trial_says("#!/bin/sh\nread -r a\n" HELLO "( until [ -e taken ]; do echo " LETTER
               "; sleep 0.3; done ) &\nwhile read -r line; do\n" ANSWERS
               "  *taken*) : > taken;; esac\ndone\n",
               "--incoming 3", "once it is taken it is not told again\",\"good\":true");
    trial_says("#!/bin/sh\nread -r a\n" HELLO "( while echo " LETTER
               "; do sleep 0.3; done ) & pid=$!\nwhile read -r line; do\n" ANSWERS
               "  esac\ndone\nkill $pid\n",
               "--incoming 3", "once it is taken it is not told again\",\"good\":false");
}

/* It ends with the second message in its hands. */
static void the_trial_misses_a_fate_among_several(void **state)
{
    (void)state;
    trial_says("#!/bin/sh\nread -r a\n" HELLO "n=0\nwhile read -r line; do\n"
               "  case $line in *send*) n=$((n+1)); [ $n -ne 2 ] || exit 0;; esac\n" ANSWERS
               "  esac\ndone\n",
               "--at-once 2", "(concurrency)\",\"good\":false");
}

static void it_dies_with_a_message_in_its_hands(void **state)
{
    Site *site = site_with("#!/bin/sh\nread -r a\n" HELLO "read -r a\nexit 3\n", "", NULL);
    g_autofree char *ada = site_client(site, ADA, "08:30");

    (void)state;
    sees(site, fate_of, "unsure");
    sees(site, problem_of, "ended with code 3");
    sees(site, state_of, "ready"); /* started again */
    site_free(site);
}

static void it_hangs(void **state)
{
    Site *site = site_with("#!/bin/sh\nread -r a\n" HELLO "exec sleep 100 >&2\n", "", NULL);

    (void)state;
    g_autofree char *ada = site_client(site, ADA, "08:30");
    sees(site, fate_of, "unsure");
    site_free(site);
}

static void trouble(const char *script, const char *problem)
{
    Site *site = site_with(script, "", NULL);

    sees(site, problem_of, problem);
    sees(site, alerts_of, "one"); /* the third time in a row */
    site_free(site);
}

static void it_cannot_start_floods_or_lies(void **state)
{
    (void)state;
    trouble("#!/no/such/interpreter\n", "cannot be started");
    trouble("#!/bin/sh\nread -r a\n" HELLO "yes '{}' \n", "mean nothing");
    trouble("#!/bin/sh\nread -r a\n" HELLO "yes | tr -d '\\n'\n", "too long");
    trouble("#!/bin/sh\nread -r a\necho '{\"type\":\"hello\",\"version\":2}'\nread -r a\n",
            "another version");
}

/* What it tells goes to the disk a few at a time: everybody else is heard meanwhile. */
static void a_flood_of_receipts_holds_nobody_up(void **state)
{
    Site *site = site_with(
        "#!/bin/sh\nread -r a\n" HELLO
        "exec yes '{\"type\":\"receipt\",\"gateway_id\":\"g1\",\"fate\":\"delivered\"}'\n",
        "", NULL);

    (void)state;
    sees(site, state_of, "ready");
    for (int i = 0; i < 20; i++) {
        g_autofree char *still = state_of(site);
        assert_string_equal(still, "ready");
    }
    site_free(site);
}

/* Of a flood of complaints the log keeps a few and a number, and osier sends meanwhile. */
static void a_flood_of_complaints_fills_no_log(void **state)
{
    Site *site =
        site_with("#!/bin/sh\nread -r a\n" HELLO
                  "i=0; while [ $i -lt 3000 ]; do i=$((i+1)); echo \"no carrier $i\" >&2; done\n"
                  "printf 'no end of line' >&2\nexit 1\n",
                  "", NULL);

    (void)state;
    sees(site, said_of, "event=program.left-out gateway=modem lines=3001\n"); /* started again */
    g_autofree char *said = site_said(site);
    assert_non_null(strstr(said, "event=program.says gateway=modem words=\"no carrier 1\"\n"));
    assert_null(strstr(said, "no carrier 11"));
    assert_non_null(strstr(said, "event=program.left-out gateway=modem lines=2991\n"));
    site_free(site);
    trouble("#!/bin/sh\nread -r a\n" HELLO "yes >&2\n", "without end to standard error");
    trouble("#!/bin/sh\nread -r a\n" HELLO "yes | tr -d '\\n' >&2\n",
            "without end to standard error");
}

/* Without a signal at first, until there is a file "signal"; with a word behind it, well from the beginning. */
static const char MODEM[] =
    "#!/bin/sh\n"
    "read -r a\n" HELLO "if [ -z \"$1\" ]; then\n"
    "  echo '{\"type\":\"health\",\"well\":false,\"words\":\"no signal\"}'\n"
    "  while [ ! -e signal ]; do sleep 0.1; done\n"
    "  echo '{\"type\":\"health\",\"well\":true,\"words\":\"signal 70 %\"}'\n"
    "fi\n"
    "while read -r line; do\n"
    "  id=$(printf '%s\\n' \"$line\" | sed -n 's/.*\"id\":\"\\([^\"]*\\)\".*/\\1/p')\n"
    "  [ -z \"$id\" ] || printf '{\"type\":\"fate\",\"id\":\"%s\",\"fate\":\"accepted\"}\\n' "
    "\"$id\"\n"
    "done\n";

static char *gateway_of(Site *site)
{
    json_t *messages = site_ask(site, "messages");
    char *gateway = g_strdup(
        json_string_value(json_object_get(look_only(messages, "kind", "welcome"), "gateway")));

    json_decref(messages);
    return gateway;
}

static char *figures_of(Site *site)
{
    return site_told(site, "metrics");
}

static char *told_of(Site *site)
{
    return site_told(site, "status");
}

static void it_is_given_nothing_while_it_says_that_it_is_not_well(void **state)
{
    Site *site = site_with(MODEM, "", NULL);
    g_autofree char *signal = g_build_filename(site->clinic, "signal", NULL);

    (void)state;
    sees(site, problem_of, "no signal");
    g_autofree char *ada = site_client(site, ADA, "08:30");
    sees(site, figures_of, "osier_gateway_well{gateway=\"modem\"} 0\n");
    sees(site, told_of, "gateway modem (program): says that it is not well");
    g_autofree char *fate = fate_of(site);
    assert_string_equal(fate, "waiting");
    g_assert_true(g_file_set_contents(signal, "", 0, NULL));
    sees(site, fate_of, "accepted");
    sees(site, figures_of, "osier_gateway_well{gateway=\"modem\"} 1\n");
    sees(site, told_of, "gateway modem (program): works");
    site_free(site);
}

static void another_takes_what_one_that_is_not_well_would(void **state)
{
    Site *site =
        site_with(MODEM, "}\n  other: {kind: program, command: [./modem, well], answer: 1s", NULL);

    (void)state;
    sees(site, problem_of, "no signal");
    g_autofree char *ada = site_client(site, ADA, "08:30");
    sees(site, fate_of, "accepted");
    sees(site, gateway_of, "other");
    site_free(site);
}

static void no_program_runs_by_a_made_up_clock(void **state)
{
    Site *site = site_with("#!/bin/sh\ntouch started\n", "", "2026-03-02T09:00:00Z");
    g_autofree char *mark = g_build_filename(site->clinic, "started", NULL);
    g_autofree char *ada = site_client(site, ADA, "08:30");

    (void)state;
    assert_true(site_clock(site, "2026-03-02T10:00:00Z"));
    g_autofree char *fate = fate_of(site);
    assert_string_equal(fate, "waiting");
    assert_false(g_file_test(mark, G_FILE_TEST_EXISTS));
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_example_of_the_page_sends_and_receives),
        cmocka_unit_test(the_example_passes_the_trial),
        cmocka_unit_test(the_trial_takes_what_comes_in),
        cmocka_unit_test(the_trial_misses_a_fate_among_several),
        cmocka_unit_test(it_dies_with_a_message_in_its_hands),
        cmocka_unit_test(it_hangs),
        cmocka_unit_test(it_cannot_start_floods_or_lies),
        cmocka_unit_test(a_flood_of_receipts_holds_nobody_up),
        cmocka_unit_test(a_flood_of_complaints_fills_no_log),
        cmocka_unit_test(it_is_given_nothing_while_it_says_that_it_is_not_well),
        cmocka_unit_test(another_takes_what_one_that_is_not_well_would),
        cmocka_unit_test(no_program_runs_by_a_made_up_clock),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
