/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's mail over servers that clinics use: Debian's OpenSMTPD takes what goes out, and delivers what comes back to
 * Debian's dovecot, with the real osierd between them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>
#include <unistd.h>

#include "adapters/mail/compose.h"
#include "adapters/mail/parts.h"
#include "tests/support/dovecot.h"
#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"
#include "tests/support/smtpd.h"

typedef struct {
    Site *site;
    StandIn *gateway;
    Dovecot *dovecot;
    Smtpd *smtpd; /* NULL: not on this machine */
    char *client; /* once there is one */
} Post;

/* It is seven on a Monday; the digest goes out at eight. */
static int post_open(void **state)
{
    Post *post = g_new0(Post, 1);
    int imap = site_free_port(), smtp = site_free_port();

    *state = post;
    if (!dovecot_installed() || !smtpd_installed()) return 0;
    post->dovecot = dovecot_new(imap, "key-for-tests");
    post->smtpd = smtpd_new(smtp, site_free_port(), dovecot_maildir(post->dovecot));
    dovecot_start(post->dovecot);
    smtpd_start(post->smtpd);
    post->site = site_new();
    post->gateway = stand_in_new(speech_map(SPEAKS_FORM));
    site_use_servers(post->site, post->gateway, SPEAKS_FORM, site_free_port(), imap, smtp);
    assert_int_equal(site_start(post->site, "2026-03-02T07:00:00Z"), 0);
    return 0;
}

static int post_close(void **state)
{
    Post *post = *state;

    if (post->smtpd != NULL) {
        site_free(post->site);
        stand_in_free(post->gateway);
        smtpd_free(post->smtpd);
        dovecot_free(post->dovecot);
    }
    g_free(post->client);
    g_free(post);
    return 0;
}

/* What was opened; where the servers are not there the test is passed over, but not where `make packages` has run by root. */
static Post *open_or_skip(void **state)
{
    Post *post = *state;

    if (post->smtpd != NULL) return post;
    print_message("opensmtpd or dovecot: not installed, or not root: see make packages\n");
    assert_true(g_getenv("CI") == NULL || geteuid() != 0);
    skip();
    return NULL;
}

static void until(Post *post, const char *time)
{
    g_autofree char *to = g_strdup_printf("2026-03-02T%s:00Z", time);

    assert_true(site_clock(post->site, to));
}

/* The message of that kind to the client; new reference. */
static json_t *message_of(Post *post, const char *kind)
{
    json_t *list = site_ask(post->site, "messages --client %s", post->client);
    json_t *found = NULL, *message;
    size_t i;

    json_array_foreach(list, i, message)
    {
        if (strcmp(json_string_value(json_object_get(message, "kind")), kind) == 0)
            found = json_incref(message);
    }
    json_decref(list);
    assert_non_null(found);
    return found;
}

static void fate_is(Post *post, const char *kind, const char *fate)
{
    json_t *message = message_of(post, kind);

    look_is(message, "fate", fate);
    json_decref(message);
}

static void answer(Post *post, const char *answered, const char *text)
{
    g_autofree char *mail = g_strdup_printf("From: Ada N. <ada@client.example>\r\n"
                                            "To: sessions@clinic.example\r\n"
                                            "Date: Mon, 2 Mar 2026 08:41:00 +0000\r\n"
                                            "Message-ID: <answer-1@client.example>\r\n"
                                            "In-Reply-To: <%s@clinic.example>\r\n\r\n%s\r\n",
                                            answered, text);

    assert_int_equal(smtpd_send(post->smtpd, "ada@client.example", "sessions@clinic.example", mail),
                     250);
    assert_int_equal(smtpd_wait(post->smtpd, "sessions", 1), 1);
}

static void reminder_and_digest_go_out_and_an_answer_comes_in(void **state)
{
    Post *post = open_or_skip(state);

    post->client = site_mail_client(post->site, "ada@client.example", "08:30");
    until(post, "08:40");
    assert_int_equal(smtpd_wait(post->smtpd, "desk", 1), 1);
    assert_int_equal(smtpd_wait(post->smtpd, "ada", 2), 2);
    json_t *reminder = message_of(post, "reminder");
    look_is(reminder, "fate", "accepted");
    g_autofree char *id = look_copy(reminder, "message");
    json_decref(reminder);
    g_autoptr(GBytes) asked = smtpd_mail(post->smtpd, "ada", id);
    assert_non_null(asked);
    g_autofree char *named = mail_message_id(asked);
    g_autofree char *automatic = mail_header(asked, "Auto-Submitted");
    assert_string_equal(named, id);
    assert_string_equal(automatic, "auto-generated");
    g_autoptr(GBytes) digest = smtpd_mail(post->smtpd, "desk", "multipart/alternative");
    assert_non_null(digest);
    answer(post, id, "Did them, a 4, no pain.");
    until(post, "08:45");
    json_t *replies = site_ask(post->site, "replies");
    assert_int_equal(json_array_size(replies), 1);
    assert_int_equal(look_count(replies, "state", "read"), 1);
    json_decref(replies);
    json_t *sessions = site_ask(post->site, "sessions %s --from 2026-03-02 --days 1", post->client);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_decref(sessions);
}

/* Taken by the first server, refused by the next: the report (RFC 3464) that comes back is the message's fate. */
static void reports_of_a_server_become_fates(void **state)
{
    Post *post = open_or_skip(state);

    post->client = site_mail_client(post->site, "gone@far.example", "08:30");
    until(post, "08:10");
    assert_int_equal(smtpd_wait(post->smtpd, "sessions", 1), 1);
    until(post, "08:15");
    fate_is(post, "welcome", "failed");
    json_t *replies = site_ask(post->site, "replies");
    assert_int_equal(json_array_size(replies), 0);
    json_decref(replies);
    json_t *welcome = message_of(post, "welcome");
    json_t *why =
        site_ask(post->site, "why %s", json_string_value(json_object_get(welcome, "message")));
    g_autofree char *told = json_dumps(why, 0);
    assert_non_null(strstr(told, "a mail server reports: 5.0.0"));
    json_decref(why);
    json_decref(welcome);
}

static void mail_that_goes_further_is_delivered(void **state)
{
    Post *post = open_or_skip(state);

    post->client = site_mail_client(post->site, "ben@far.example", "08:30");
    until(post, "08:40");
    assert_int_equal(smtpd_wait(post->smtpd, "ben", 2), 2);
    fate_is(post, "reminder", "accepted");
}

static void recipient_that_nobody_knows_is_refused_at_once(void **state)
{
    Post *post = open_or_skip(state);

    post->client = site_mail_client(post->site, "gone@client.example", "08:30");
    until(post, "08:10");
    fate_is(post, "welcome", "refused");
}

/* One envelope for each recipient (libcurl's status tells of several the last reply alone): the digest reaches who can be
 * reached, is tried again for who is full, and is refused for who is not there. */
static void recipients_of_a_digest_have_fates_of_their_own(void **state)
{
    static const struct {
        const char *to, *fate;
    } cases[] = {{"desk@clinic.example", "accepted"},
                 {"gone@clinic.example", "refused"},
                 {"full@clinic.example", "waiting"}};
    Post *post = open_or_skip(state);
    g_autofree char *path = g_build_filename(post->site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL;

    assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    g_autoptr(GString) settings = g_string_new(yaml);
    assert_int_equal(g_string_replace(settings, "to: [desk@clinic.example]",
                                      "to: [desk@clinic.example, gone@clinic.example, "
                                      "full@clinic.example]",
                                      0),
                     1);
    assert_int_equal(site_stop(post->site), 0);
    site_settings(post->site, settings->str);
    assert_int_equal(site_start(post->site, "2026-03-02T07:10:00Z"), 0);
    until(post, "08:10");
    json_t *list = site_ask(post->site, "messages"), *message;
    size_t i;
    json_array_foreach(list, i, message)
    {
        if (strcmp(json_string_value(json_object_get(message, "kind")), "digest") != 0) continue;
        bool known = false;
        for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
            if (strcmp(json_string_value(json_object_get(message, "to")), cases[k].to) != 0)
                continue;
            look_is(message, "fate", cases[k].fate);
            known = true;
        }
        assert_true(known);
    }
    assert_int_equal(look_count(list, "kind", "digest"), 3);
    json_decref(list);
    assert_int_equal(smtpd_wait(post->smtpd, "desk", 1), 1);
}

static void server_away_for_a_while_gets_each_mail_once(void **state)
{
    Post *post = open_or_skip(state);

    post->client = site_mail_client(post->site, "ada@client.example", "08:30");
    until(post, "08:10");
    assert_int_equal(smtpd_wait(post->smtpd, "ada", 1), 1);
    smtpd_stop(post->smtpd);
    until(post, "09:00");
    fate_is(post, "reminder", "waiting");
    smtpd_start(post->smtpd);
    until(post, "10:00");
    fate_is(post, "reminder", "accepted");
    assert_int_equal(smtpd_wait(post->smtpd, "ada", 2), 2);
    until(post, "11:00");
    assert_int_equal(smtpd_wait(post->smtpd, "ada", 2), 2);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, post_open, post_close)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(reminder_and_digest_go_out_and_an_answer_comes_in),
        CASE(reports_of_a_server_become_fates),
        CASE(mail_that_goes_further_is_delivered),
        CASE(recipient_that_nobody_knows_is_refused_at_once),
        CASE(recipients_of_a_digest_have_fates_of_their_own),
        CASE(server_away_for_a_while_gets_each_mail_once),
    };
    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
