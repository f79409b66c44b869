/* SPDX-License-Identifier: Apache-2.0 */
/* What clients, mail servers and strangers write to the clinic's mailbox, through the real osierd. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/hostile_mail.h"
#include "tests/support/json_look.h"
#include "tests/support/post_box.h"
#include "tests/support/site_gateway.h"

#define ADA "ada@client.example"

typedef struct {
    Site *site;
    StandIn *gateway;
    PostBox *box;
    char *ada;
    int letters; /* written so far */
} Clinic;

/* Ada, who is written to by mail, has been asked at half past eight. */
static int clinic_open(void **state)
{
    Clinic *clinic = g_new0(Clinic, 1);

    clinic->site = site_new();
    clinic->gateway = stand_in_new(speech_map(SPEAKS_FORM));
    clinic->box = post_box_new();
    site_use_mailbox(clinic->site, clinic->gateway, SPEAKS_FORM, site_free_port(),
                     post_box_port(clinic->box));
    assert_int_equal(site_start(clinic->site, "2026-03-02T08:05:00Z"), 0);
    clinic->ada = site_mail_client(clinic->site, "Ada@Client.example", "08:30");
    assert_true(site_clock(clinic->site, "2026-03-02T08:40:00Z"));
    *state = clinic;
    return 0;
}

static int clinic_close(void **state)
{
    Clinic *clinic = *state;

    site_free(clinic->site);
    post_box_free(clinic->box);
    stand_in_free(clinic->gateway);
    g_free(clinic->ada);
    g_free(clinic);
    return 0;
}

/* Puts a mail with more headers (each with its CRLF); osierd asks once a minute. */
static guint32 put(Clinic *clinic, const char *from, const char *headers, const char *text)
{
    g_autofree char *mail = g_strdup_printf(
        "From: %s\r\nTo: sessions@clinic.example\r\nDate: Mon, 2 Mar 2026 09:%02d:00 +0000\r\n"
        "Message-ID: <letter-%d@client.example>\r\nContent-Type: text/plain; charset=utf-8\r\n%s"
        "\r\n%s\r\n",
        from, clinic->letters % 60, clinic->letters, headers, text);

    clinic->letters++;
    return post_box_put(clinic->box, mail);
}

static void until(Clinic *clinic, const char *time)
{
    g_autofree char *to = g_strdup_printf("2026-03-02T%s:00Z", time);

    assert_true(site_clock(clinic->site, to));
}

/* The one mail to that address whose text holds the words. */
static const StandInSend *mail_to(Clinic *clinic, const char *to, const char *holds)
{
    const StandInSend *found = NULL;

    for (int i = 0; i < stand_in_mails(clinic->gateway); i++) {
        const StandInSend *mail = stand_in_mail(clinic->gateway, i);
        if (strcmp(mail->to, to) == 0 && strstr(mail->text, holds) != NULL) found = mail;
    }
    return found;
}

static char *reminder_id(Clinic *clinic)
{
    const StandInSend *reminder = mail_to(clinic, ADA, "Subject: Your stretches");

    if (reminder == NULL)
        reminder = stand_in_mail(clinic->gateway, stand_in_mails(clinic->gateway) - 1);
    return g_strdup(reminder->id);
}

static json_t *replies(Clinic *clinic)
{
    return site_ask(clinic->site, "replies");
}

/* The last reply has that state, and its reading (JSON text) at least that. */
static void last_reply(Clinic *clinic, int count, const char *state, const char *reading)
{
    json_t *list = replies(clinic);

    assert_int_equal(json_array_size(list), count);
    if (state == NULL) {
        json_decref(list);
        return;
    }
    const json_t *last = json_array_get(list, (size_t)count - 1);
    look_is(last, "state", state);
    if (reading != NULL) look_json(json_object_get(last, "reading"), reading);
    json_decref(list);
}

static char *session_state(Clinic *clinic)
{
    json_t *list = site_ask(clinic->site, "sessions %s --from 2026-03-02 --days 1", clinic->ada);
    char *state = look_copy(json_array_get(list, 0), "state");

    json_decref(list);
    return state;
}

static int alerts(Clinic *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "alerts --all");
    int n = look_count(list, "kind", kind);

    json_decref(list);
    return n;
}

static void answer_by_mail_becomes_a_report(void **state)
{
    Clinic *clinic = *state;
    g_autofree char *id = reminder_id(clinic);
    g_autofree char *headers =
        g_strdup_printf("In-Reply-To: %s\r\nSubject: Re: Today's session\r\n", id);

    put(clinic, "Ada N. <" ADA ">", headers,
        "Did them, a 4, no pain.\r\n\r\nOn Monday, Reedbank <sessions@clinic.example> wrote:\r\n"
        "> chest pain? Ring 999 and stop\r\n> Reply with a number 0-10");
    until(clinic, "09:10");
    last_reply(clinic, 1, "read", "{\"done\":\"yes\",\"intensity\":4,\"pain\":0,\"warning\":null}");
    g_autofree char *session = session_state(clinic);
    assert_string_equal(session, "done");
    assert_int_equal(alerts(clinic, "heart"), 0);
}

static void warning_sign_by_mail_calls_somebody(void **state)
{
    Clinic *clinic = *state;

    put(clinic, ADA, "Subject: Chest pain\r\n", "it came on while I was stretching");
    until(clinic, "09:05");
    last_reply(clinic, 1, "unread", "{\"warning\":\"heart\"}");
    assert_int_equal(alerts(clinic, "heart"), 1);
    assert_int_equal(stand_in_sent(clinic->gateway, "+442079460190", "heart", NULL), 1);
    assert_non_null(mail_to(clinic, ADA, "999"));
}

static void answer_from_another_address_is_known_by_what_it_answers(void **state)
{
    Clinic *clinic = *state;
    g_autofree char *id = reminder_id(clinic);
    g_autofree char *headers = g_strdup_printf("References: %s\r\n", id);

    put(clinic, "ada.at.work@other.example", headers, "Done, a 3, no pain");
    until(clinic, "09:05");
    put(clinic, "stranger@other.example", "", "Done, a 3, no pain");
    until(clinic, "09:10");
    last_reply(clinic, 2, "unread", NULL);
    g_autofree char *session = session_state(clinic);
    assert_string_equal(session, "done");
}

static void stop_by_mail_ends_the_mails(void **state)
{
    Clinic *clinic = *state;

    put(clinic, ADA, "Subject: STOP\r\n", "STOP");
    until(clinic, "09:05");
    last_reply(clinic, 1, "command", "{\"command\":\"stop\"}");
    assert_int_equal(alerts(clinic, "stopped"), 1);
}

static void bounce_becomes_a_fate(void **state)
{
    Clinic *clinic = *state;
    g_autofree char *id = reminder_id(clinic);
    g_autofree char *mail = g_strdup_printf(
        "Return-Path: <>\r\nFrom: MAILER-DAEMON@mail.example\r\nSubject: Undelivered\r\n"
        "Content-Type: multipart/report; boundary=b\r\n\r\n--b\r\n\r\nIt did not get there.\r\n"
        "--b\r\nContent-Type: message/delivery-status\r\n\r\nReporting-MTA: dns; "
        "mail.example\r\n\r\n"
        "Final-Recipient: rfc822; " ADA "\r\nAction: failed\r\nStatus: 5.1.1\r\n"
        "Diagnostic-Code: smtp; 550 no such user\r\n\r\n--b\r\nContent-Type: "
        "text/rfc822-headers\r\n"
        "\r\nMessage-ID: %s\r\n\r\n--b--\r\n",
        id);

    post_box_put(clinic->box, mail);
    until(clinic, "09:05");
    last_reply(clinic, 0, NULL, NULL);
    assert_int_equal(alerts(clinic, "undeliverable"), 1);
    json_t *messages = site_ask(clinic->site, "messages --client %s", clinic->ada);
    assert_int_equal(look_count(messages, "fate", "failed"), 1);
    json_decref(messages);
    g_autofree char *session = session_state(clinic);
    assert_string_equal(session, "unasked");
}

/* RFC 3834: not an answer, and not answered. A client's own is seen once; strangers' are left in the mailbox. */
static void automatic_answers_are_not_replies(void **state)
{
    Clinic *clinic = *state;
    int before = stand_in_mails(clinic->gateway);

    put(clinic, ADA, "Auto-Submitted: auto-replied\r\n", "Done with work, 4 days away. HELP");
    put(clinic, "news@shop.example", "List-Id: <shop.example>\r\n", "chest pain? Buy this");
    put(clinic, "desk@clinic.example", "Auto-Submitted: auto-replied\r\n", "away");
    until(clinic, "09:05");
    last_reply(clinic, 1, "read", NULL);
    json_t *glance = site_ask(clinic->site, "glance");
    assert_int_equal(json_array_size(glance), 1);
    json_decref(glance);
    g_autofree char *session = session_state(clinic);
    assert_string_equal(session, "asked");
    assert_int_equal(stand_in_mails(clinic->gateway), before);
    assert_int_equal(alerts(clinic, "heart"), 0);
}

static void sign_in_an_automatic_answer_is_told_to_a_clinician_only(void **state)
{
    Clinic *clinic = *state;
    int before = stand_in_mails(clinic->gateway);

    put(clinic, ADA, "Auto-Submitted: auto-replied\r\n", "I had a fall and broke my hip.");
    until(clinic, "09:05");
    last_reply(clinic, 1, "unread", NULL);
    assert_int_equal(alerts(clinic, "fall") + alerts(clinic, "fracture"), 1);
    assert_int_equal(stand_in_mails(clinic->gateway), before);
}

static void clinicians_mail_is_seen_and_takes_nothing(void **state)
{
    Clinic *clinic = *state;

    put(clinic, "Desk <desk@clinic.example>", "", "Ada says that she fell");
    until(clinic, "09:05");
    last_reply(clinic, 1, "command", NULL);
    assert_int_equal(alerts(clinic, "fall"), 0);
    json_t *glance = site_ask(clinic->site, "glance");
    assert_int_equal(json_array_size(glance), 1);
    json_decref(glance);
}

static void server_that_drops_in_the_middle_holds_nothing_up(void **state)
{
    Clinic *clinic = *state;

    post_box_cut(clinic->box, put(clinic, ADA, "", "this one never comes whole"));
    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "09:10");
    json_t *list = replies(clinic);
    assert_int_equal(json_array_size(list), 2);
    const json_t *lost = look_only(list, "state", "unread");
    assert_non_null(
        strstr(json_string_value(json_object_get(lost, "why")), "look into the mailbox (number 1"));
    assert_int_equal(look_count(list, "state", "read"), 1);
    json_decref(list);
}

static void server_that_is_away_for_a_while_loses_nothing(void **state)
{
    Clinic *clinic = *state;

    post_box_close_door(clinic->box, true);
    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "10:45");
    last_reply(clinic, 0, NULL, NULL);
    post_box_close_door(clinic->box, false);
    until(clinic, "11:00");
    last_reply(clinic, 1, "read", "{\"done\":\"yes\"}");
    json_t *status = site_ask(clinic->site, "status");
    json_t *poll = look_only(json_object_get(status, "polls"), "name", "post");
    assert_int_equal(json_integer_value(json_object_get(poll, "failures")), 0);
    json_decref(status);
}

/* A restored mailbox numbers its mails anew: none is read twice, none is passed over. */
static void mailbox_that_is_numbered_anew(void **state)
{
    Clinic *clinic = *state;

    post_box_delete(clinic->box, put(clinic, ADA, "", "gone before anybody asked"));
    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "09:05");
    last_reply(clinic, 1, "read", NULL);
    post_box_renumber(clinic->box);
    put(clinic, ADA, "", "thank you");
    until(clinic, "09:10");
    last_reply(clinic, 2, "read", NULL);
    int fetches = post_box_fetches(clinic->box);
    until(clinic, "09:20");
    assert_int_equal(post_box_fetches(clinic->box), fetches);
}

static void what_was_read_is_known_after_a_restart(void **state)
{
    Clinic *clinic = *state;

    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "09:05");
    int fetches = post_box_fetches(clinic->box);
    assert_int_equal(site_stop(clinic->site), 0);
    assert_int_equal(site_start(clinic->site, "2026-03-02T09:06:00Z"), 0);
    until(clinic, "09:10");
    assert_int_equal(post_box_fetches(clinic->box), fetches);
    last_reply(clinic, 1, "read", NULL);
}

/* A picture of several megabytes behind a few words: the words are read, and a person looks. */
static void very_large_mail_is_read_from_its_beginning(void **state)
{
    Clinic *clinic = *state;
    g_autofree char *filler = g_strnfill(3 * 1024 * 1024, 'A');
    g_autofree char *mail = g_strconcat(
        "From: " ADA "\r\nMessage-ID: <large@client.example>\r\n"
        "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\n"
        "I have chest pain\r\n--b\r\nContent-Type: image/jpeg\r\n\r\n",
        filler, "\r\n--b--\r\n", NULL);

    post_box_put(clinic->box, mail);
    put(clinic, ADA, "", "and it does not stop");
    until(clinic, "09:05");
    json_t *list = replies(clinic);
    assert_int_equal(json_array_size(list), 2);
    assert_int_equal(look_count(list, "state", "unread"), 1);
    json_decref(list);
    assert_int_equal(alerts(clinic, "heart"), 1);
}

static void fifty_mails_at_once_are_all_read(void **state)
{
    Clinic *clinic = *state;

    for (int i = 0; i < 50; i++)
        put(clinic, ADA, "", "thank you");
    until(clinic, "08:45");
    last_reply(clinic, 50, NULL, NULL);
}

/* Two mails with the same words and the same Date, told apart by their Message-ID; the same mail, delivered twice, is one. */
static void same_words_in_the_same_second_are_two_mails(void **state)
{
    static const char *const ids[] = {"one", "two", "two"};
    Clinic *clinic = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        g_autofree char *mail = g_strdup_printf(
            "Received: by mx.example id %d\r\nFrom: " ADA "\r\nMessage-ID: <%s@client.example>\r\n"
            "Date: Mon, 2 Mar 2026 08:41:00 +0000\r\n\r\nthank you\r\n",
            (int)i, ids[i]);
        post_box_put(clinic->box, mail);
    }
    until(clinic, "08:50");
    last_reply(clinic, 2, "read", NULL);
}

static void bytes_that_are_no_mail_wait_for_a_person(void **state)
{
    Clinic *clinic = *state;
    static const char odd[] = "\0\xff\xfe\0 no mail at all \r\n\r\n\x80";

    post_box_put_bytes(clinic->box, g_bytes_new_static(odd, sizeof odd - 1));
    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "09:05");
    json_t *list = replies(clinic);
    assert_int_equal(json_array_size(list), 2);
    assert_int_equal(look_count(list, "state", "unread"), 1);
    assert_int_equal(look_count(list, "state", "read"), 1);
    json_decref(list);
}

/* Some that are made to cost, known to be read before the clock goes on, and an answer behind them. */
static void hostile_mails_hold_nothing_up(void **state)
{
    Clinic *clinic = *state;

    int put_there = 0;

    for (int kind = 0; kind < HOSTILE_KINDS; kind += 5, put_there++)
        post_box_put_bytes(clinic->box, hostile_mail(kind));
    put(clinic, ADA, "", "Done, a 4, no pain");
    until(clinic, "08:50");
    json_t *list = replies(clinic);
    assert_int_equal(look_count(list, "state", "unread"), put_there);
    assert_int_equal(look_count(list, "state", "read"), 1);
    json_decref(list);
    g_autofree char *session = session_state(clinic);
    assert_string_equal(session, "done");
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, clinic_open, clinic_close)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(answer_by_mail_becomes_a_report),
        CASE(warning_sign_by_mail_calls_somebody),
        CASE(answer_from_another_address_is_known_by_what_it_answers),
        CASE(stop_by_mail_ends_the_mails),
        CASE(bounce_becomes_a_fate),
        CASE(automatic_answers_are_not_replies),
        CASE(sign_in_an_automatic_answer_is_told_to_a_clinician_only),
        CASE(clinicians_mail_is_seen_and_takes_nothing),
        CASE(server_that_drops_in_the_middle_holds_nothing_up),
        CASE(server_that_is_away_for_a_while_loses_nothing),
        CASE(mailbox_that_is_numbered_anew),
        CASE(what_was_read_is_known_after_a_restart),
        CASE(very_large_mail_is_read_from_its_beginning),
        CASE(fifty_mails_at_once_are_all_read),
        CASE(same_words_in_the_same_second_are_two_mails),
        CASE(bytes_that_are_no_mail_wait_for_a_person),
        CASE(hostile_mails_hold_nothing_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
