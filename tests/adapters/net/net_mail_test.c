/* SPDX-License-Identifier: Apache-2.0 */
/* SMTP and IMAP through the real carrier: what was handed over, and what cannot have been. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/carrier_world.h"

/* ---- SMTP ---- */

static void smtp_line(CarrierWorld *world, ScriptPeer *peer, const char *line)
{
    g_string_append_printf(world->dialogue, "%s\n", line);
    bool refuses = !world->first_only || script_server_accepted(world->server) == 1;
    if (refuses && world->refuse != NULL && g_str_has_prefix(line, world->refuse)) {
        if (world->reply == NULL)
            script_hang_up(peer);
        else
            script_say_text(peer, world->reply);
    } else if (g_str_has_prefix(line, "EHLO")) {
        script_say_text(peer, "250-clinic.example\r\n250 AUTH PLAIN\r\n");
    } else if (g_str_has_prefix(line, "AUTH")) {
        *script_state(peer) = 3;
        script_say_text(peer, "334 \r\n");
    } else if (strcmp(line, "DATA") == 0) {
        *script_state(peer) = 2;
        script_say_text(peer, "354 go on\r\n");
    } else if (strcmp(line, "QUIT") !=
               0) { /* a goodbye is never answered: nobody may wait for it */
        script_say_text(peer, "250 fine\r\n");
    }
}

static void smtp(ScriptPeer *peer, GString *heard, void *context)
{
    CarrierWorld *world = context;
    int *phase = script_state(peer); /* 0 new, 1 commands, 2 message, 3 credentials */
    if (*phase == 0) script_say_text(peer, "220 clinic.example\r\n");
    if (*phase == 0) *phase = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line)) {
        if (*phase == 3) {
            *phase = 1;
            script_say_text(peer, "235 welcome\r\n");
        } else if (*phase == 1) {
            smtp_line(world, peer, line);
        } else if (strcmp(line, ".") == 0) {
            world->requests++;
            *phase = 1;
            if (world->refuse != NULL && strcmp(world->refuse, ".") == 0)
                smtp_line(world, peer, line);
            else
                script_say_text(peer, "250 queued as q1\r\n");
        } else {
            g_string_append_printf(world->mail, "%s\n", line);
            if (world->refuse != NULL && strcmp(world->refuse, "body") == 0) script_hang_up(peer);
        }
    }
}

static const char digest[] = "Subject: Digest\r\n\r\n.begins with a dot\r\n";

static WireRequest *mail(const CarrierWorld *world)
{
    WireRequest *request = carrier_request(world, EXCHANGE_SMTP, "smtp", "");
    request->user = g_strdup("sessions");
    request->password = g_strdup("not a secret");
    request->mail_from = g_strdup("sessions@clinic.example");
    request->mail_to = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(request->mail_to, g_strdup("duty@clinic.example"));
    g_ptr_array_add(request->mail_to, g_strdup("second@clinic.example"));
    request->body = g_bytes_new_static(digest, strlen(digest));
    return request;
}

static void mail_is_taken(void **state)
{
    CarrierWorld *world = *state;
    const WireResponse *response = carrier_exchange(world, mail(world));
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_int_equal(response->status, 250);
    assert_int_equal(world->requests, 1);
    assert_non_null(strstr(world->dialogue->str, "MAIL FROM:<sessions@clinic.example>"));
    assert_non_null(strstr(world->dialogue->str, "RCPT TO:<duty@clinic.example>"));
    assert_non_null(strstr(world->dialogue->str, "RCPT TO:<second@clinic.example>"));
    assert_string_equal(world->mail->str, "Subject: Digest\n\n..begins with a dot\n");
}

static void goodbye_is_not_answered(void **state)
{
    CarrierWorld *world = *state;
    world->rude = true;
    int64_t before = g_get_monotonic_time();
    assert_int_equal(carrier_exchange(world, mail(world))->phase, PHASE_ANSWERED);
    assert_true(g_get_monotonic_time() - before < 5 * G_USEC_PER_SEC);
}

static void closed_while_a_mail_is_under_way(void **state)
{
    CarrierWorld *world = *state;
    const char *const points[] = {"RCPT", "."};
    const char *const seen[] = {"\nRCPT", "\n.\n"};
    const WirePhase phases[] = {PHASE_NEVER_LEFT, PHASE_UNSURE};
    world->rude = true;
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        world->refuse = points[i];
        world->reply = ""; /* the server falls silent here */
        carrier_submit(world, mail(world));
        g_string_set_size(world->dialogue, 0);
        while (strstr(world->dialogue->str, seen[i]) == NULL)
            uv_run(&world->loop, UV_RUN_ONCE);
        world->net->close(world->net);
        assert_int_equal(world->response->phase, phases[i]);
        g_clear_pointer(&world->response, wire_response_free);
        world->net = carrier_open(world);
    }
}

static void mail_is_refused(void **state)
{
    CarrierWorld *world = *state;
    const struct {
        const char *command, *reply;
        long status;
    } cases[] = {{"MAIL", "451 later\r\n", 451},
                 {"RCPT TO:<second", "550 5.1.1 nobody of that name\r\n", 550},
                 {"DATA", "554 no\r\n", 554},
                 {".", "552-too\r\n552 large\r\n", 552}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        world->refuse = cases[i].command;
        world->reply = cases[i].reply;
        const WireResponse *response = carrier_exchange(world, mail(world));
        assert_int_equal(response->phase, PHASE_ANSWERED);
        assert_int_equal(response->status, cases[i].status);
        assert_int_equal(g_bytes_get_size(response->body), strlen(cases[i].reply));
        assert_memory_equal(g_bytes_get_data(response->body, NULL), cases[i].reply,
                            strlen(cases[i].reply));
    }
}

static void log_in_is_refused(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = "AUTH";
    world->reply = "535 5.7.8 who are you\r\n";
    const WireResponse *response = carrier_exchange(world, mail(world));
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_int_equal(response->status, 535);
    assert_string_equal(response->error, "535 5.7.8 who are you");
    assert_null(strstr(world->dialogue->str, "MAIL FROM"));
}

static void connection_is_lost_before_the_dot(void **state)
{
    CarrierWorld *world = *state;
    const char *const points[] = {"EHLO", "AUTH", "MAIL", "RCPT", "DATA"};
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        world->refuse = points[i];
        assert_int_equal(carrier_exchange(world, mail(world))->phase, PHASE_NEVER_LEFT);
    }
    assert_int_equal(world->requests, 0);
}

static void connection_is_lost_after_the_dot(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = ".";
    const WireResponse *response = carrier_exchange(world, mail(world));
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 1);
}

/* How often a line that begins so was said. */
static int said(const CarrierWorld *world, const char *begins)
{
    g_auto(GStrv) lines = g_strsplit(world->dialogue->str, "\n", -1);
    int count = 0;
    for (int i = 0; lines[i] != NULL; i++)
        count += g_str_has_prefix(lines[i], begins);
    return count;
}

static void mails_one_upon_the_other_share_a_session(void **state)
{
    CarrierWorld *world = *state;
    for (int i = 1; i <= 5; i++) {
        assert_int_equal(carrier_exchange(world, mail(world))->status, 250);
        assert_int_equal(world->requests, i);
    }
    assert_int_equal(script_server_accepted(world->server), 1);
    assert_int_equal(said(world, "EHLO"), 1);
    assert_int_equal(said(world, "AUTH"), 1);
    assert_int_equal(said(world, "MAIL FROM"), 5);
    assert_int_equal(said(world, "QUIT"), 0);
    /* Closed, the carrier says goodbye, and waits for no answer. */
    world->net->close(world->net);
    while (said(world, "QUIT") == 0)
        uv_run(&world->loop, UV_RUN_ONCE);
    world->net = carrier_open(world);
}

static void other_users_mail_has_a_session_of_its_own(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *other = mail(world);
    g_free(other->user);
    other->user = g_strdup("digests");
    carrier_exchange(world, mail(world));
    assert_int_equal(carrier_exchange(world, other)->status, 250);
    assert_int_equal(script_server_accepted(world->server), 2);
    assert_int_equal(said(world, "AUTH"), 2);
}

/* The envelope of one mail must not end up on the next. */
static void mail_that_was_refused_ends_its_session(void **state)
{
    CarrierWorld *world = *state;
    const char *const commands[] = {"MAIL", "RCPT", "DATA", "."};
    for (int i = 0; i < (int)G_N_ELEMENTS(commands); i++) {
        world->refuse = NULL;
        assert_int_equal(carrier_exchange(world, mail(world))->status, 250);
        world->refuse = commands[i];
        world->reply = "550 no\r\n";
        assert_int_equal(carrier_exchange(world, mail(world))->status, 550);
        assert_int_equal(script_server_accepted(world->server), i + 1);
    }
}

/* Nothing of the mail was answered: it goes over a new session at once, and once. */
static void session_that_the_server_had_ended(void **state)
{
    CarrierWorld *world = *state;
    const struct {
        const char *command, *reply;
    } cases[] = {{"MAIL", NULL},
                 {"MAIL", "421 I close\r\n"},
                 {"RCPT", "421 I close\r\n"},
                 {"DATA", "421 I close\r\n"}};
    world->first_only = true;
    for (int i = 0; i < (int)G_N_ELEMENTS(cases); i++) {
        world->refuse = NULL;
        world->requests = 0;
        assert_int_equal(carrier_exchange(world, mail(world))->status, 250);
        world->refuse = cases[i].command;
        world->reply = cases[i].reply;
        g_string_set_size(world->mail, 0);
        assert_int_equal(carrier_exchange(world, mail(world))->status, 250);
        assert_int_equal(world->requests, 2);
        assert_int_equal(script_server_accepted(world->server), 2);
        assert_string_equal(world->mail->str, "Subject: Digest\n\n..begins with a dot\n");
        world->net->close(world->net);
        world->net = carrier_open(world);
        script_server_close(world->server);
        world->server = script_server_new(&world->loop, smtp, world);
    }
}

/* The dot had left: whether it came is not known, and nothing is sent a second time. */
static void session_that_ends_after_the_dot(void **state)
{
    CarrierWorld *world = *state;
    carrier_exchange(world, mail(world));
    world->refuse = ".";
    assert_int_equal(carrier_exchange(world, mail(world))->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 2);
    assert_int_equal(script_server_accepted(world->server), 1);
}

static void mail_past_its_end(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = mail(world);
    request->end_ms = world->now_ms - 1;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_string_equal(world->dialogue->str, "");
}

static void envelope_that_would_inject(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = mail(world);
    g_ptr_array_add(request->mail_to, g_strdup("a@clinic.example>\r\nRCPT TO:<b@clinic.example"));
    assert_int_equal(carrier_exchange(world, request)->phase, PHASE_NEVER_LEFT);
    assert_string_equal(world->dialogue->str, "");
}

/* ---- IMAP ---- */

static const char letter[] = "From: client@client.example\r\n\r\n8 done\r\n";

enum { MANY = 20000, FIRST_OF_MANY = 4294900000 - MANY };

/* So many messages, of the longest numbers that there are, in one line. */
static void append_many(GString *answer)
{
    g_string_append(answer, "* SEARCH");
    for (int i = 0; i < MANY; i++)
        g_string_append_printf(answer, " %u", (guint)FIRST_OF_MANY + (guint)i);
    g_string_append(answer, "\r\n");
}

static void imap_line(CarrierWorld *world, ScriptPeer *peer, const char *line)
{
    g_string_append_printf(world->dialogue, "%s\n", line);
    g_autofree char *tag = g_strndup(line, strcspn(line, " "));
    const char *command = line + strlen(tag) + 1;
    g_autoptr(GString) answer = g_string_new(NULL);
    if (g_str_has_prefix(command, "CAPABILITY"))
        g_string_append(answer, "* CAPABILITY IMAP4rev1\r\n");
    if (g_str_has_prefix(command, "SELECT"))
        g_string_append(answer, "* 2 EXISTS\r\n* OK [UIDVALIDITY 7] ok\r\n");
    if (g_str_has_prefix(command, "UID SEARCH") && !world->rude)
        g_string_append(answer, "* SEARCH 4 9\r\n");
    if (g_str_has_prefix(command, "UID SEARCH") && world->rude) append_many(answer);
    if (g_str_has_prefix(command, "UID FETCH 9"))
        g_string_append_printf(answer, "* 2 FETCH (UID 9 BODY[] {%zu}\r\n%s)\r\n", strlen(letter),
                               letter);
    bool refused = world->refuse != NULL && g_str_has_prefix(command, world->refuse);
    if (refused && world->reply == NULL) {
        script_hang_up(peer);
        return;
    }
    g_string_append_printf(answer, "%s %s\r\n", tag, refused ? world->reply : "OK done");
    script_say_text(peer, answer->str);
}

static void imap(ScriptPeer *peer, GString *heard, void *context)
{
    int *greeted = script_state(peer);
    if (*greeted == 0) script_say_text(peer, "* OK ready\r\n");
    *greeted = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line))
        imap_line(context, peer, line);
}

static WireRequest *mailbox(const CarrierWorld *world, const char *rest, const char *command)
{
    WireRequest *request = carrier_request(world, EXCHANGE_IMAP, "imap", rest);
    request->user = g_strdup("sessions");
    request->password = g_strdup("not a secret");
    request->method = g_strdup(command);
    request->repeatable = true;
    return request;
}

static void assert_answer(const WireResponse *response, const char *expected)
{
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_int_equal(response->status, 0);
    assert_int_equal(g_bytes_get_size(response->body), strlen(expected));
    if (*expected)
        assert_memory_equal(g_bytes_get_data(response->body, NULL), expected, strlen(expected));
}

static void mailbox_is_searched_and_read(void **state)
{
    CarrierWorld *world = *state;
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*")),
                  "* SEARCH 4 9\r\n");
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX;UID=9", NULL)), letter);
}

static void letter_is_no_longer_there(void **state)
{
    CarrierWorld *world = *state;
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=5", NULL));
    assert_answer(response, "");
    assert_true(g_str_has_suffix(response->head, " OK done\r\n"));
}

static void server_says_what_the_mailbox_is(void **state)
{
    CarrierWorld *world = *state;
    const WireResponse *response =
        carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*"));
    assert_non_null(strstr(response->head, "[UIDVALIDITY 7]"));
    response = carrier_exchange(world, mailbox(world, "/INBOX;UIDVALIDITY=7/;UID=9", NULL));
    assert_answer(response, letter);
    response = carrier_exchange(world, mailbox(world, "/INBOX;UIDVALIDITY=8/;UID=9", NULL));
    assert_answer(response, "");
    const char *asked = strstr(world->dialogue->str, "UID FETCH");
    assert_non_null(asked);
    assert_null(strstr(asked + 1, "UID FETCH"));
}

static void server_refuses_one_letter(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = "UID FETCH 5";
    world->reply = "NO [SERVERBUG] not now";
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=5", NULL));
    assert_answer(response, "");
    assert_non_null(strstr(response->head, " NO [SERVERBUG]"));
}

static void server_goes_in_the_middle_of_a_letter(void **state)
{
    CarrierWorld *world = *state;
    world->refuse = "UID FETCH 9";
    const WireResponse *response = carrier_exchange(world, mailbox(world, "/INBOX;UID=9", NULL));
    assert_int_not_equal(response->phase, PHASE_ANSWERED);
    assert_false(response->too_large);
}

static void search_of_twenty_thousand_comes_whole(void **state)
{
    CarrierWorld *world = *state;
    world->rude = true;
    g_autoptr(GString) whole = g_string_new(NULL);
    append_many(whole);
    assert_answer(carrier_exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*")),
                  whole->str);
}

static void letter_too_large_leaves_its_beginning(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = mailbox(world, "/INBOX;UID=9", NULL);
    request->answer_max = 20;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_true(response->too_large);
    assert_int_equal(g_bytes_get_size(response->body), 20);
    assert_memory_equal(g_bytes_get_data(response->body, NULL), letter, 20);
}

static int with_smtp(void **state)
{
    return carrier_world_new(state, smtp);
}

static int with_imap(void **state)
{
    return carrier_world_new(state, imap);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(mail_is_taken, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(goodbye_is_not_answered, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(closed_while_a_mail_is_under_way, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(mail_is_refused, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(log_in_is_refused, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(connection_is_lost_before_the_dot, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(connection_is_lost_after_the_dot, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(mails_one_upon_the_other_share_a_session, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(other_users_mail_has_a_session_of_its_own, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(mail_that_was_refused_ends_its_session, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(session_that_the_server_had_ended, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(session_that_ends_after_the_dot, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(mail_past_its_end, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(envelope_that_would_inject, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(mailbox_is_searched_and_read, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(letter_is_no_longer_there, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(server_says_what_the_mailbox_is, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(server_refuses_one_letter, with_imap, carrier_world_end),
        cmocka_unit_test_setup_teardown(server_goes_in_the_middle_of_a_letter, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(search_of_twenty_thousand_comes_whole, with_imap,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(letter_too_large_leaves_its_beginning, with_imap,
                                        carrier_world_end),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
