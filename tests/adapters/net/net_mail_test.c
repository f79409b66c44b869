/* SPDX-License-Identifier: Apache-2.0 */
/* SMTP through the real carrier: what was handed over, and what cannot have been. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/carrier_world.h"

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

typedef struct {
    int ended[3]; /* by phase */
    bool worked;
} Hang;

static void count_end(WireResponse *response, void *context)
{
    ((Hang *)context)->ended[response->phase]++;
    wire_response_free(response);
}

static void do_work(uv_work_t *work)
{
    (void)work;
}

static void note_work(uv_work_t *work, int status)
{
    assert_int_equal(status, 0);
    ((Hang *)work->data)->worked = true;
}

/* libuv's own workers are four: they stay for those who draw and read. What is under way and what waits ends with the carrier. */
static void servers_that_hang_take_no_worker_of_libuvs(void **state)
{
    CarrierWorld *world = *state;
    Hang hang = {0};
    uv_work_t other = {.data = &hang};
    world->refuse = "EHLO";
    world->reply = ""; /* the server falls silent here */
    for (int i = 0; i < 6; i++)
        net_submit(world->net, mail(world), count_end, &hang);
    while (said(world, "EHLO") < 4)
        uv_run(&world->loop, UV_RUN_ONCE);
    assert_int_equal(uv_queue_work(&world->loop, &other, do_work, note_work), 0);
    while (!hang.worked)
        uv_run(&world->loop, UV_RUN_ONCE);
    world->net->close(world->net);
    assert_int_equal(hang.ended[PHASE_NEVER_LEFT], 6);
    world->net = carrier_open(world);
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

static int with_smtp(void **state)
{
    return carrier_world_new(state, smtp);
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
        cmocka_unit_test_setup_teardown(servers_that_hang_take_no_worker_of_libuvs, with_smtp,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(mail_past_its_end, with_smtp, carrier_world_end),
        cmocka_unit_test_setup_teardown(envelope_that_would_inject, with_smtp, carrier_world_end),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
