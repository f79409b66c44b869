/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's mailbox on a mail server that clinics use: Debian's dovecot, and the real osierd. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/dovecot.h"
#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

typedef struct {
    Site *site;
    StandIn *gateway;
    Dovecot *dovecot; /* NULL: not on this machine */
    char *ada;
    int letters;
} Clinic;

/* Ada, who is written to by mail, has been asked at half past eight. */
static int clinic_open(void **state)
{
    Clinic *clinic = g_new0(Clinic, 1);
    int port = site_free_port();

    *state = clinic;
    if (!dovecot_installed()) return 0;
    clinic->dovecot = dovecot_new(port, "key-for-tests");
    dovecot_start(clinic->dovecot);
    clinic->site = site_new();
    clinic->gateway = stand_in_new(speech_map(SPEAKS_FORM));
    site_use_mailbox(clinic->site, clinic->gateway, SPEAKS_FORM, site_free_port(), port);
    assert_int_equal(site_start(clinic->site, "2026-03-02T08:05:00Z"), 0);
    clinic->ada = site_mail_client(clinic->site, "Ada@Client.example", "08:30");
    assert_true(site_clock(clinic->site, "2026-03-02T08:40:00Z"));
    return 0;
}

static int clinic_close(void **state)
{
    Clinic *clinic = *state;

    if (clinic->dovecot != NULL) {
        site_free(clinic->site);
        stand_in_free(clinic->gateway);
        dovecot_free(clinic->dovecot);
    }
    g_free(clinic->ada);
    g_free(clinic);
    return 0;
}

/* The clinic; where there is no dovecot the test is passed over, but not where `make packages` has run. */
static Clinic *open_or_skip(void **state)
{
    Clinic *clinic = *state;

    if (clinic->dovecot != NULL) return clinic;
    print_message("dovecot: not installed: make packages installs it\n");
    assert_null(g_getenv("CI"));
    skip();
    return NULL;
}

static void deliver(Clinic *clinic, const char *from, const char *text)
{
    g_autofree char *mail = g_strdup_printf(
        "From: %s\nTo: sessions@clinic.example\nDate: Mon, 2 Mar 2026 08:%02d:%02d +0000\n"
        "Message-ID: <letter-%d@client.example>\nContent-Type: text/plain; charset=utf-8\n\n%s\n",
        from, clinic->letters / 60, clinic->letters % 60, clinic->letters, text);

    clinic->letters++;
    dovecot_deliver(clinic->dovecot, mail);
}

static void until(Clinic *clinic, const char *time)
{
    g_autofree char *to = g_strdup_printf("2026-03-02T%s:00Z", time);

    assert_true(site_clock(clinic->site, to));
}

static void replies_are(Clinic *clinic, int count, int read)
{
    json_t *list = site_ask(clinic->site, "replies");

    assert_int_equal(json_array_size(list), count);
    assert_int_equal(look_count(list, "state", "read"), read);
    json_decref(list);
}

static void answers_and_signs_are_read(void **state)
{
    Clinic *clinic = open_or_skip(state);

    deliver(clinic, "Ada N. <ada@client.example>", "Did them, a 4, no pain.");
    until(clinic, "08:45");
    replies_are(clinic, 1, 1);
    json_t *sessions =
        site_ask(clinic->site, "sessions %s --from 2026-03-02 --days 1", clinic->ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
    deliver(clinic, "ada@client.example", "it came with chest pain");
    until(clinic, "08:50");
    json_t *alerts = site_ask(clinic->site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "heart"), 1);
    json_decref(alerts);
    assert_int_equal(dovecot_seen(clinic->dovecot), 2);
}

static void two_hundred_mails_are_each_read_once(void **state)
{
    Clinic *clinic = open_or_skip(state);

    for (int i = 0; i < 200; i++)
        deliver(clinic, "ada@client.example", "thank you");
    until(clinic, "08:55");
    replies_are(clinic, 200, 200);
    until(clinic, "09:10");
    replies_are(clinic, 200, 200);
}

static void server_away_for_an_hour_loses_nothing(void **state)
{
    Clinic *clinic = open_or_skip(state);

    deliver(clinic, "ada@client.example", "thank you");
    until(clinic, "08:45");
    dovecot_stop(clinic->dovecot);
    deliver(clinic, "ada@client.example", "Done, a 4, no pain");
    until(clinic, "09:45");
    replies_are(clinic, 1, 1);
    dovecot_start(clinic->dovecot);
    until(clinic, "10:20");
    replies_are(clinic, 2, 2);
}

static void mailbox_restored_under_new_numbers_is_read_once(void **state)
{
    Clinic *clinic = open_or_skip(state);

    deliver(clinic, "ada@client.example", "Done, a 4, no pain");
    until(clinic, "08:45");
    dovecot_stop(clinic->dovecot);
    dovecot_renumber(clinic->dovecot);
    deliver(clinic, "ada@client.example", "thank you");
    dovecot_start(clinic->dovecot);
    until(clinic, "09:00");
    replies_are(clinic, 2, 2);
}

static void killed_between_two_mails_reads_each_once(void **state)
{
    Clinic *clinic = open_or_skip(state);

    deliver(clinic, "ada@client.example", "Done, a 4, no pain");
    until(clinic, "08:45");
    site_kill(clinic->site);
    deliver(clinic, "ada@client.example", "thank you");
    assert_int_equal(site_start(clinic->site, "2026-03-02T08:46:00Z"), 0);
    until(clinic, "08:55");
    replies_are(clinic, 2, 2);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, clinic_open, clinic_close)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(answers_and_signs_are_read),
        CASE(two_hundred_mails_are_each_read_once),
        CASE(server_away_for_an_hour_loses_nothing),
        CASE(mailbox_restored_under_new_numbers_is_read_once),
        CASE(killed_between_two_mails_reads_each_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
