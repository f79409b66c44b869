/* SPDX-License-Identifier: Apache-2.0 */
/* What only the real carrier can get wrong in HTTP: kept connections, addresses, broken handshakes. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/carrier_world.h"

static WireRequest *post(const CarrierWorld *world)
{
    WireRequest *request = carrier_request(world, EXCHANGE_HTTP, "http", "/messages");
    request->method = g_strdup("POST");
    request->body = g_bytes_new_static("text=hello", 10);
    return request;
}

static void http(ScriptPeer *peer, GString *heard, void *context)
{
    CarrierWorld *world = context;
    while (heard->len > 0) {
        g_string_append(world->dialogue, heard->str);
        if (!script_take_http(heard)) return;
        if (++world->requests == world->hang_up_at)
            script_hang_up(peer);
        else
            script_say_text(peer, "HTTP/1.1 202 Accepted\r\nContent-Length: 2\r\n\r\nok");
    }
}

/* libcurl 7.88 by itself would send the second request twice, and report one success. */
static void kept_connection_is_dropped_after_the_request(void **state)
{
    CarrierWorld *world = *state;
    world->hang_up_at = 2;
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    const WireResponse *response = carrier_exchange(world, post(world));
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 2);
    assert_string_equal(response->error,
                        "the connection ended before an answer came; not sent a second time");
}

/* What a router does that forgets its connections. libcurl 7.88 takes it for alive; as nothing could be written, nothing left. */
static void kept_connection_is_reset_before_the_request(void **state)
{
    CarrierWorld *world = *state;
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    script_server_reset_all(world->server);
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    assert_int_equal(world->requests, 2);
    assert_int_equal(script_server_accepted(world->server), 2);
}

static void kept_connection_is_reset_and_nobody_listens_any_more(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *second = post(world);
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    script_server_reset_all(world->server);
    script_server_close(world->server);
    const WireResponse *response = carrier_exchange(world, second);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->unreachable);
    world->server = NULL;
}

static void repeatable_request_is_sent_again_on_a_fresh_connection(void **state)
{
    CarrierWorld *world = *state;
    world->hang_up_at = 2;
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    WireRequest *request = post(world);
    request->repeatable = true;
    assert_int_equal(carrier_exchange(world, request)->phase, PHASE_ANSWERED);
    assert_int_equal(world->requests, 3);
    assert_int_equal(script_server_accepted(world->server), 2);
}

static void connection_is_kept(void **state)
{
    CarrierWorld *world = *state;
    for (int i = 0; i < 10; i++)
        assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    assert_int_equal(script_server_accepted(world->server), 1);
}

static void end_passes_while_connecting(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = post(world);
    world->passing_ms =
        1000; /* the first look is before connecting, the second before the first byte */
    request->end_ms = world->now_ms + 500;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_int_equal(script_server_accepted(world->server), 1);
    assert_int_equal(world->requests, 0);
}

static void headers_arrive_as_given(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = post(world);
    assert_true(wire_request_header(request, "X-Plain", "one two"));
    assert_true(wire_request_header(request, "X-Empty", ""));
    carrier_exchange(world, request);
    assert_non_null(strstr(world->dialogue->str, "POST /messages HTTP/1.1\r\n"));
    assert_non_null(strstr(world->dialogue->str, "X-Plain: one two\r\n"));
    assert_non_null(strstr(world->dialogue->str, "X-Empty:\r\n"));
    assert_null(strstr(world->dialogue->str, "Expect"));
    assert_null(strstr(world->dialogue->str, "urlencoded"));
}

static void ten_megabytes_go_out_whole(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = post(world);
    size_t length = 10 * 1024 * 1024;
    g_bytes_unref(request->body);
    request->body = g_bytes_new_take(g_malloc0(length), length);
    assert_int_equal(carrier_exchange(world, request)->status, 202);
    assert_int_equal(world->requests, 1);
}

static void nobody_listens(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = post(world);
    script_server_close(world->server);
    world->server = NULL;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_false(response->end_passed);
    assert_true(response->unreachable);
    assert_non_null(response->error);
}

static void a_name_that_nobody_has(void **state)
{
    CarrierWorld *world = *state;
    /* RFC 6761: .invalid never resolves. A carrier bound to the loopback asks no name server. */
    const WireResponse *response =
        carrier_exchange(world, wire_request_new(EXCHANGE_HTTP, "http://gateway.invalid/"));
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
}

static WireRequest *knock(const CarrierWorld *world)
{
    return carrier_request(world, EXCHANGE_KNOCK, "http", "/");
}

/* Many times, so that a connection left open would be missed: two are all that the carrier may have. */
static void a_knock_says_nothing(void **state)
{
    CarrierWorld *world = *state;
    for (int i = 0; i < 10; i++) {
        const WireResponse *response = carrier_exchange(world, knock(world));
        assert_int_equal(response->phase, PHASE_ANSWERED);
        assert_false(response->unreachable);
    }
    assert_int_equal(carrier_exchange(world, post(world))->phase, PHASE_ANSWERED);
    assert_int_equal(world->requests, 1);
}

static void a_knock_at_no_door(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = knock(world);
    script_server_close(world->server);
    world->server = NULL;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->unreachable);
}

static void address_outside_the_loopback(void **state)
{
    CarrierWorld *world = *state;
    /* RFC 5737: never a real host. Refused at once, not by a time-out: no packet was tried. */
    const char *const urls[] = {"http://192.0.2.1/messages", "http://[2001:db8::1]/messages",
                                "http://[::ffff:192.0.2.1]/messages"};
    for (size_t i = 0; i < G_N_ELEMENTS(urls); i++) {
        int64_t before = g_get_monotonic_time();
        const WireResponse *response =
            carrier_exchange(world, wire_request_new(EXCHANGE_HTTP, urls[i]));
        assert_int_equal(response->phase, PHASE_NEVER_LEFT);
        assert_string_equal(response->error,
                            "only the loopback may be reached, and this address is not on it");
        assert_true(g_get_monotonic_time() - before < 2 * G_USEC_PER_SEC);
    }
}

static void server_speaks_no_tls(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = carrier_request(world, EXCHANGE_HTTP, "https", "/messages");
    request->timeout_ms = 500;
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_int_equal(world->requests, 0);
}

static void answer_never_comes(void **state)
{
    CarrierWorld *world = *state;
    WireRequest *request = post(world);
    request->timeout_ms = 200;
    world->hang_up_at = -1;
    g_bytes_unref(request->body);
    request->body = g_bytes_new_static("text=hello", 10);
    assert_true(wire_request_header(request, "Content-Length",
                                    "11")); /* the server waits for one byte more */
    const WireResponse *response = carrier_exchange(world, request);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(world->requests, 0);
}

static void other_schemes_are_refused(void **state)
{
    CarrierWorld *world = *state;
    const char *const urls[] = {"file:///etc/hostname",
                                "ftp://127.0.0.1/x",
                                "gopher://127.0.0.1/x",
                                "smtp://127.0.0.1/x",
                                "",
                                "http://",
                                "http://127.0.0.1:99999/",
                                "http://127.0.0.1/\r\nX: y"};
    for (size_t i = 0; i < G_N_ELEMENTS(urls); i++)
        assert_int_equal(carrier_exchange(world, wire_request_new(EXCHANGE_HTTP, urls[i]))->phase,
                         PHASE_NEVER_LEFT);
}

static int with_http(void **state)
{
    return carrier_world_new(state, http);
}

static void redirecting(ScriptPeer *peer, GString *heard, void *context)
{
    CarrierWorld *world = context;
    if (!script_take_http(heard)) return;
    world->requests++;
    script_say_text(peer,
                    "HTTP/1.1 307 Elsewhere\r\nLocation: /other\r\nContent-Length: 0\r\n\r\n");
}

static int with_redirects(void **state)
{
    return carrier_world_new(state, redirecting);
}

static void redirect_is_not_followed(void **state)
{
    CarrierWorld *world = *state;
    assert_int_equal(carrier_exchange(world, post(world))->status, 307);
    assert_int_equal(world->requests, 1);
}

static void certificates_that_are_not_there(void **state)
{
    (void)state;
    uv_loop_t loop;
    NetCurlOptions options = {.connections_max = 1, .ca_file = "/no/such/file.pem"};
    g_autofree char *why = NULL;
    uv_loop_init(&loop);
    assert_null(net_curl_new(&loop, &options, &why));
    assert_non_null(strstr(why, "/no/such/file.pem"));
    assert_int_equal(uv_loop_close(&loop), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(kept_connection_is_dropped_after_the_request, with_http,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(kept_connection_is_reset_before_the_request, with_http,
                                        carrier_world_end),
        cmocka_unit_test_setup_teardown(kept_connection_is_reset_and_nobody_listens_any_more,
                                        with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(repeatable_request_is_sent_again_on_a_fresh_connection,
                                        with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(connection_is_kept, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(end_passes_while_connecting, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(headers_arrive_as_given, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(ten_megabytes_go_out_whole, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(nobody_listens, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(a_name_that_nobody_has, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(a_knock_says_nothing, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(a_knock_at_no_door, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(address_outside_the_loopback, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(server_speaks_no_tls, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(answer_never_comes, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(other_schemes_are_refused, with_http, carrier_world_end),
        cmocka_unit_test_setup_teardown(redirect_is_not_followed, with_redirects,
                                        carrier_world_end),
        cmocka_unit_test(certificates_that_are_not_there),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
