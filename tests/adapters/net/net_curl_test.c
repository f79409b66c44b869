/* SPDX-License-Identifier: Apache-2.0 */
/* What only the real carrier can get wrong: kept connections, addresses, broken handshakes, SMTP
 * and IMAP. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/net/net_curl.h"
#include "tests/support/script_server.h"

typedef struct {
    uv_loop_t loop;
    Net *net;
    ScriptServer *server;
    int64_t now_ms;
    WireResponse *response;
    int requests;       /* HTTP requests, or SMTP messages up to their dot, that the server saw */
    int hang_up_at;     /* the request that is answered by hanging up; 0: none */
    int passing_ms;     /* what the clock moves on at each look */
    const char *refuse; /* SMTP: the command that is refused */
    const char *reply;  /* SMTP: with which line; NULL: hangs up */
    bool rude;          /* a goodbye is not answered */
    GString *dialogue;  /* command lines seen */
    GString *mail;      /* message seen */
} World;

static int64_t wall(void *context)
{
    World *world = context;
    int64_t now_ms = world->now_ms;
    world->now_ms += world->passing_ms;
    return now_ms;
}

static void say(ScriptPeer *peer, const char *text)
{
    script_say(peer, text, strlen(text));
}

static void note(WireResponse *response, void *context)
{
    World *world = context;
    assert_null(world->response);
    world->response = response;
    uv_stop(&world->loop);
}

static Net *carrier(World *world)
{
    char *why = NULL;
    NetCurlOptions options = {
        .loopback_only = true, .wall_ms = wall, .wall_context = world, .connections_max = 2};
    return net_curl_new(&world->loop, &options, &why);
}

static const WireResponse *exchange(World *world, WireRequest *request)
{
    g_clear_pointer(&world->response, wire_response_free);
    net_submit(world->net, request, note, world);
    while (world->response == NULL)
        uv_run(&world->loop, UV_RUN_ONCE);
    return world->response;
}

static WireRequest *request_to(const World *world, ExchangeKind kind, const char *scheme,
                               const char *rest)
{
    g_autofree char *url =
        g_strdup_printf("%s://127.0.0.1:%d%s", scheme, script_server_port(world->server), rest);
    return wire_request_new(kind, url);
}

static WireRequest *post(const World *world)
{
    WireRequest *request = request_to(world, EXCHANGE_HTTP, "http", "/messages");
    request->method = g_strdup("POST");
    request->body = g_bytes_new_static("text=hello", 10);
    return request;
}

/* ---- HTTP ---- */

static void http(ScriptPeer *peer, GString *heard, void *context)
{
    World *world = context;
    while (heard->len > 0) {
        g_string_append(world->dialogue, heard->str);
        if (!script_take_http(heard)) return;
        if (++world->requests == world->hang_up_at)
            script_hang_up(peer);
        else
            say(peer, "HTTP/1.1 202 Accepted\r\nContent-Length: 2\r\n\r\nok");
    }
}

/* libcurl 7.88 by itself would send the second request twice, and report one success. */
static void kept_connection_is_dropped_after_the_request(void **state)
{
    World *world = *state;
    world->hang_up_at = 2;
    assert_int_equal(exchange(world, post(world))->phase, PHASE_ANSWERED);
    const WireResponse *response = exchange(world, post(world));
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 2);
    assert_string_equal(response->error,
                        "the connection ended before an answer came; not sent a second time");
}

static void repeatable_request_is_sent_again_on_a_fresh_connection(void **state)
{
    World *world = *state;
    world->hang_up_at = 2;
    assert_int_equal(exchange(world, post(world))->phase, PHASE_ANSWERED);
    WireRequest *request = post(world);
    request->repeatable = true;
    assert_int_equal(exchange(world, request)->phase, PHASE_ANSWERED);
    assert_int_equal(world->requests, 3);
    assert_int_equal(script_server_accepted(world->server), 2);
}

static void connection_is_kept(void **state)
{
    World *world = *state;
    for (int i = 0; i < 10; i++)
        assert_int_equal(exchange(world, post(world))->phase, PHASE_ANSWERED);
    assert_int_equal(script_server_accepted(world->server), 1);
}

static void end_passes_while_connecting(void **state)
{
    World *world = *state;
    WireRequest *request = post(world);
    world->passing_ms =
        1000; /* the first look is before connecting, the second before the first byte */
    request->end_ms = world->now_ms + 500;
    const WireResponse *response = exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_int_equal(script_server_accepted(world->server), 1);
    assert_int_equal(world->requests, 0);
}

static void headers_arrive_as_given(void **state)
{
    World *world = *state;
    WireRequest *request = post(world);
    assert_true(wire_request_header(request, "X-Plain", "one two"));
    assert_true(wire_request_header(request, "X-Empty", ""));
    exchange(world, request);
    assert_non_null(strstr(world->dialogue->str, "POST /messages HTTP/1.1\r\n"));
    assert_non_null(strstr(world->dialogue->str, "X-Plain: one two\r\n"));
    assert_non_null(strstr(world->dialogue->str, "X-Empty:\r\n"));
    assert_null(strstr(world->dialogue->str, "Expect"));
    assert_null(strstr(world->dialogue->str, "urlencoded"));
}

static void ten_megabytes_go_out_whole(void **state)
{
    World *world = *state;
    WireRequest *request = post(world);
    size_t length = 10 * 1024 * 1024;
    g_bytes_unref(request->body);
    request->body = g_bytes_new_take(g_malloc0(length), length);
    assert_int_equal(exchange(world, request)->status, 202);
    assert_int_equal(world->requests, 1);
}

static void nobody_listens(void **state)
{
    World *world = *state;
    WireRequest *request = post(world);
    script_server_close(world->server);
    world->server = NULL;
    const WireResponse *response = exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_false(response->end_passed);
    assert_non_null(response->error);
}

static void address_outside_the_loopback(void **state)
{
    World *world = *state;
    /* RFC 5737: never a real host. Refused at once, not by a time-out: no packet was tried. */
    const char *const urls[] = {"http://192.0.2.1/messages", "http://[2001:db8::1]/messages",
                                "http://[::ffff:192.0.2.1]/messages"};
    for (size_t i = 0; i < G_N_ELEMENTS(urls); i++) {
        int64_t before = g_get_monotonic_time();
        const WireResponse *response = exchange(world, wire_request_new(EXCHANGE_HTTP, urls[i]));
        assert_int_equal(response->phase, PHASE_NEVER_LEFT);
        assert_string_equal(response->error,
                            "only the loopback may be reached, and this address is not on it");
        assert_true(g_get_monotonic_time() - before < 2 * G_USEC_PER_SEC);
    }
}

static void server_speaks_no_tls(void **state)
{
    World *world = *state;
    WireRequest *request = request_to(world, EXCHANGE_HTTP, "https", "/messages");
    request->timeout_ms = 500;
    const WireResponse *response = exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_int_equal(world->requests, 0);
}

static void answer_never_comes(void **state)
{
    World *world = *state;
    WireRequest *request = post(world);
    request->timeout_ms = 200;
    world->hang_up_at = -1;
    g_bytes_unref(request->body);
    request->body = g_bytes_new_static("text=hello", 10);
    assert_true(wire_request_header(request, "Content-Length",
                                    "11")); /* the server waits for one byte more */
    const WireResponse *response = exchange(world, request);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 0);
}

static void other_schemes_are_refused(void **state)
{
    World *world = *state;
    const char *const urls[] = {"file:///etc/hostname",
                                "ftp://127.0.0.1/x",
                                "gopher://127.0.0.1/x",
                                "smtp://127.0.0.1/x",
                                "",
                                "http://",
                                "http://127.0.0.1:99999/",
                                "http://127.0.0.1/\r\nX: y"};
    for (size_t i = 0; i < G_N_ELEMENTS(urls); i++)
        assert_int_equal(exchange(world, wire_request_new(EXCHANGE_HTTP, urls[i]))->phase,
                         PHASE_NEVER_LEFT);
}

/* ---- SMTP ---- */

static void smtp_line(World *world, ScriptPeer *peer, const char *line)
{
    g_string_append_printf(world->dialogue, "%s\n", line);
    if (world->refuse != NULL && g_str_has_prefix(line, world->refuse)) {
        if (world->reply == NULL)
            script_hang_up(peer);
        else
            say(peer, world->reply);
    } else if (g_str_has_prefix(line, "EHLO")) {
        say(peer, "250-clinic.example\r\n250 AUTH PLAIN\r\n");
    } else if (g_str_has_prefix(line, "AUTH")) {
        *script_state(peer) = 3;
        say(peer, "334 \r\n");
    } else if (strcmp(line, "DATA") == 0) {
        *script_state(peer) = 2;
        say(peer, "354 go on\r\n");
    } else if (strcmp(line, "QUIT") !=
               0) { /* a goodbye is never answered: nobody may wait for it */
        say(peer, "250 fine\r\n");
    }
}

static void smtp(ScriptPeer *peer, GString *heard, void *context)
{
    World *world = context;
    int *phase = script_state(peer); /* 0 new, 1 commands, 2 message, 3 credentials */
    if (*phase == 0) say(peer, "220 clinic.example\r\n");
    if (*phase == 0) *phase = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line)) {
        if (*phase == 3) {
            *phase = 1;
            say(peer, "235 welcome\r\n");
        } else if (*phase == 1) {
            smtp_line(world, peer, line);
        } else if (strcmp(line, ".") == 0) {
            world->requests++;
            *phase = 1;
            if (world->refuse != NULL && strcmp(world->refuse, ".") == 0)
                smtp_line(world, peer, line);
            else
                say(peer, "250 queued as q1\r\n");
        } else {
            g_string_append_printf(world->mail, "%s\n", line);
            if (world->refuse != NULL && strcmp(world->refuse, "body") == 0) script_hang_up(peer);
        }
    }
}

static const char digest[] = "Subject: Digest\r\n\r\n.begins with a dot\r\n";

static WireRequest *mail(const World *world)
{
    WireRequest *request = request_to(world, EXCHANGE_SMTP, "smtp", "");
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
    World *world = *state;
    const WireResponse *response = exchange(world, mail(world));
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
    World *world = *state;
    world->rude = true;
    int64_t before = g_get_monotonic_time();
    assert_int_equal(exchange(world, mail(world))->phase, PHASE_ANSWERED);
    assert_true(g_get_monotonic_time() - before < 5 * G_USEC_PER_SEC);
}

static void closed_while_a_mail_is_under_way(void **state)
{
    World *world = *state;
    const char *const points[] = {"RCPT", "."};
    const char *const seen[] = {"\nRCPT", "\n.\n"};
    const WirePhase phases[] = {PHASE_NEVER_LEFT, PHASE_UNSURE};
    world->rude = true;
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        world->refuse = points[i];
        world->reply = ""; /* the server falls silent here */
        net_submit(world->net, mail(world), note, world);
        g_string_set_size(world->dialogue, 0);
        while (strstr(world->dialogue->str, seen[i]) == NULL)
            uv_run(&world->loop, UV_RUN_ONCE);
        world->net->close(world->net);
        assert_int_equal(world->response->phase, phases[i]);
        g_clear_pointer(&world->response, wire_response_free);
        world->net = carrier(world);
    }
}

static void mail_is_refused(void **state)
{
    World *world = *state;
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
        const WireResponse *response = exchange(world, mail(world));
        assert_int_equal(response->phase, PHASE_ANSWERED);
        assert_int_equal(response->status, cases[i].status);
        assert_int_equal(g_bytes_get_size(response->body), strlen(cases[i].reply));
        assert_memory_equal(g_bytes_get_data(response->body, NULL), cases[i].reply,
                            strlen(cases[i].reply));
    }
}

static void log_in_is_refused(void **state)
{
    World *world = *state;
    world->refuse = "AUTH";
    world->reply = "535 5.7.8 who are you\r\n";
    const WireResponse *response = exchange(world, mail(world));
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_int_equal(response->status, 535);
    assert_string_equal(response->error, "535 5.7.8 who are you");
    assert_null(strstr(world->dialogue->str, "MAIL FROM"));
}

static void connection_is_lost_before_the_dot(void **state)
{
    World *world = *state;
    const char *const points[] = {"EHLO", "AUTH", "MAIL", "RCPT", "DATA"};
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        world->refuse = points[i];
        assert_int_equal(exchange(world, mail(world))->phase, PHASE_NEVER_LEFT);
    }
    assert_int_equal(world->requests, 0);
}

static void connection_is_lost_after_the_dot(void **state)
{
    World *world = *state;
    world->refuse = ".";
    const WireResponse *response = exchange(world, mail(world));
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 1);
}

static void mail_past_its_end(void **state)
{
    World *world = *state;
    WireRequest *request = mail(world);
    request->end_ms = world->now_ms - 1;
    const WireResponse *response = exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_string_equal(world->dialogue->str, "");
}

static void envelope_that_would_inject(void **state)
{
    World *world = *state;
    WireRequest *request = mail(world);
    g_ptr_array_add(request->mail_to, g_strdup("a@clinic.example>\r\nRCPT TO:<b@clinic.example"));
    assert_int_equal(exchange(world, request)->phase, PHASE_NEVER_LEFT);
    assert_string_equal(world->dialogue->str, "");
}

/* ---- IMAP ---- */

static const char letter[] = "From: client@client.example\r\n\r\n8 done\r\n";

static void imap_line(World *world, ScriptPeer *peer, const char *line)
{
    g_string_append_printf(world->dialogue, "%s\n", line);
    g_autofree char *tag = g_strndup(line, strcspn(line, " "));
    const char *command = line + strlen(tag) + 1;
    g_autoptr(GString) answer = g_string_new(NULL);
    if (g_str_has_prefix(command, "CAPABILITY"))
        g_string_append(answer, "* CAPABILITY IMAP4rev1\r\n");
    if (g_str_has_prefix(command, "SELECT"))
        g_string_append(answer, "* 2 EXISTS\r\n* OK [UIDVALIDITY 7] ok\r\n");
    if (g_str_has_prefix(command, "UID SEARCH")) g_string_append(answer, "* SEARCH 4 9\r\n");
    if (g_str_has_prefix(command, "UID FETCH 9"))
        g_string_append_printf(answer, "* 2 FETCH (UID 9 BODY[] {%zu}\r\n%s)\r\n", strlen(letter),
                               letter);
    g_string_append_printf(answer, "%s OK done\r\n", tag);
    say(peer, answer->str);
}

static void imap(ScriptPeer *peer, GString *heard, void *context)
{
    int *greeted = script_state(peer);
    if (*greeted == 0) say(peer, "* OK ready\r\n");
    *greeted = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line))
        imap_line(context, peer, line);
}

static WireRequest *mailbox(const World *world, const char *rest, const char *command)
{
    WireRequest *request = request_to(world, EXCHANGE_IMAP, "imap", rest);
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
    World *world = *state;
    assert_answer(exchange(world, mailbox(world, "/INBOX", "UID SEARCH UID 1:*")),
                  "* SEARCH 4 9\r\n");
    assert_answer(exchange(world, mailbox(world, "/INBOX;UID=9", NULL)), letter);
}

static void letter_is_no_longer_there(void **state)
{
    World *world = *state;
    assert_answer(exchange(world, mailbox(world, "/INBOX;UID=5", NULL)), "");
}

/* ---- the world ---- */

static int world_new(void **state, Script *script)
{
    World *world = g_new0(World, 1);
    world->now_ms = 1772438400000; /* 2026-03-02 08:00 UTC */
    world->dialogue = g_string_new(NULL);
    world->mail = g_string_new(NULL);
    uv_loop_init(&world->loop);
    world->server = script_server_new(&world->loop, script, world);
    world->net = carrier(world);
    *state = world;
    return world->net ? 0 : -1;
}

static int with_http(void **state)
{
    return world_new(state, http);
}

static int with_smtp(void **state)
{
    return world_new(state, smtp);
}

static int with_imap(void **state)
{
    return world_new(state, imap);
}

static int end_world(void **state)
{
    World *world = *state;
    world->net->close(world->net);
    if (world->server != NULL) script_server_close(world->server);
    while (uv_loop_alive(&world->loop))
        uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    g_clear_pointer(&world->response, wire_response_free);
    g_string_free(world->dialogue, TRUE);
    g_string_free(world->mail, TRUE);
    g_free(world);
    return 0;
}

static void redirecting(ScriptPeer *peer, GString *heard, void *context)
{
    World *world = context;
    if (!script_take_http(heard)) return;
    world->requests++;
    say(peer, "HTTP/1.1 307 Elsewhere\r\nLocation: /other\r\nContent-Length: 0\r\n\r\n");
}

static int with_redirects(void **state)
{
    return world_new(state, redirecting);
}

static void redirect_is_not_followed(void **state)
{
    World *world = *state;
    assert_int_equal(exchange(world, post(world))->status, 307);
    assert_int_equal(world->requests, 1);
}

static void certificates_that_are_not_there(void **state)
{
    (void)state;
    uv_loop_t loop;
    NetCurlOptions options = {
        .wall_ms = wall, .connections_max = 1, .ca_file = "/no/such/file.pem"};
    g_autofree char *why = NULL;
    uv_loop_init(&loop);
    assert_null(net_curl_new(&loop, &options, &why));
    assert_non_null(strstr(why, "/no/such/file.pem"));
    assert_int_equal(uv_loop_close(&loop), 0);
}

int main(void)
{
    signal(SIGPIPE, SIG_IGN);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(kept_connection_is_dropped_after_the_request, with_http,
                                        end_world),
        cmocka_unit_test_setup_teardown(repeatable_request_is_sent_again_on_a_fresh_connection,
                                        with_http, end_world),
        cmocka_unit_test_setup_teardown(connection_is_kept, with_http, end_world),
        cmocka_unit_test_setup_teardown(end_passes_while_connecting, with_http, end_world),
        cmocka_unit_test_setup_teardown(headers_arrive_as_given, with_http, end_world),
        cmocka_unit_test_setup_teardown(ten_megabytes_go_out_whole, with_http, end_world),
        cmocka_unit_test_setup_teardown(nobody_listens, with_http, end_world),
        cmocka_unit_test_setup_teardown(address_outside_the_loopback, with_http, end_world),
        cmocka_unit_test_setup_teardown(server_speaks_no_tls, with_http, end_world),
        cmocka_unit_test_setup_teardown(answer_never_comes, with_http, end_world),
        cmocka_unit_test_setup_teardown(other_schemes_are_refused, with_http, end_world),
        cmocka_unit_test_setup_teardown(redirect_is_not_followed, with_redirects, end_world),
        cmocka_unit_test_setup_teardown(mail_is_taken, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(goodbye_is_not_answered, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(closed_while_a_mail_is_under_way, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(mail_is_refused, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(log_in_is_refused, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(connection_is_lost_before_the_dot, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(connection_is_lost_after_the_dot, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(mail_past_its_end, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(envelope_that_would_inject, with_smtp, end_world),
        cmocka_unit_test_setup_teardown(mailbox_is_searched_and_read, with_imap, end_world),
        cmocka_unit_test_setup_teardown(letter_is_no_longer_there, with_imap, end_world),
        cmocka_unit_test(certificates_that_are_not_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
