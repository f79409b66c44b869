/* SPDX-License-Identifier: Apache-2.0 */
/* The net port's contract, told once and kept by both sides: libcurl against a scripted server, and
 * the twin. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/net/net_curl.h"
#include "adapters/net/net_memory.h"
#include "tests/support/script_server.h"

typedef enum {
    GATEWAY_ACCEPTS,
    GATEWAY_SHOWS_PAGE,
    GATEWAY_HANGS_UP,
    GATEWAY_HALF_ANSWERS,
    GATEWAY_ANSWERS_MUCH
} Mood;

enum { MUCH = 300 * 1000 };

typedef struct {
    Net *net;
    Mood mood;
    int64_t now_ms;
    int delivered;        /* whole requests that the gateway saw */
    ScriptServer *server; /* NULL for the twin */
    uv_loop_t loop;
    GPtrArray *responses; /* in the order of their end */
    bool inside_submit;
    int again; /* submissions left to make from a done callback */
} World;

static int64_t wall(void *context)
{
    return ((World *)context)->now_ms;
}

static char *much(void)
{
    char *text = g_malloc(MUCH + 1);
    memset(text, 'm', MUCH);
    text[MUCH] = '\0';
    return text;
}

static WireResponse *answer_as_value(const WireRequest *request, void *context)
{
    (void)request;
    World *world = context;
    world->delivered++;
    g_autofree char *body = much();
    WireResponse *response = NULL;
    switch (world->mood) {
    case GATEWAY_ACCEPTS:
        response = wire_response_new(PHASE_ANSWERED, 202, "{\"id\":\"m1\"}", NULL);
        response->content_type = g_strdup("application/json");
        response->retry_after_s = 7;
        break;
    case GATEWAY_SHOWS_PAGE:
        response = wire_response_new(PHASE_ANSWERED, 200, "<html>log in</html>", NULL);
        response->content_type = g_strdup("text/html");
        break;
    case GATEWAY_ANSWERS_MUCH: response = wire_response_new(PHASE_ANSWERED, 200, body, NULL); break;
    default: response = wire_response_new(PHASE_UNSURE, 0, NULL, "no whole answer"); break;
    }
    return response;
}

static void say(ScriptPeer *peer, int status, const char *headers, size_t promised,
                const char *body)
{
    g_autofree char *text = g_strdup_printf("HTTP/1.1 %d Status\r\n%sContent-Length: %zu\r\n\r\n%s",
                                            status, headers, promised, body);
    script_say(peer, text, strlen(text));
}

static void answer_on_the_wire(ScriptPeer *peer, GString *heard, void *context)
{
    World *world = context;
    while (script_take_http(heard)) {
        world->delivered++;
        g_autofree char *body = much();
        switch (world->mood) {
        case GATEWAY_ACCEPTS:
            say(peer, 202, "Content-Type: application/json\r\nRetry-After: 7\r\n", 11,
                "{\"id\":\"m1\"}");
            break;
        case GATEWAY_SHOWS_PAGE:
            say(peer, 200, "Content-Type: text/html\r\n", 19, "<html>log in</html>");
            break;
        case GATEWAY_ANSWERS_MUCH: say(peer, 200, "", MUCH, body); break;
        case GATEWAY_HALF_ANSWERS:
            say(peer, 202, "", 11, "{\"id\"");
            script_hang_up(peer);
            break;
        case GATEWAY_HANGS_UP: script_hang_up(peer); break;
        }
    }
}

static WireRequest *text_message(const World *world)
{
    int port = world->server ? script_server_port(world->server) : 1;
    g_autofree char *url = g_strdup_printf("http://127.0.0.1:%d/messages", port);
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, url);
    request->method = g_strdup("POST");
    request->body = g_bytes_new_static("{\"text\":\"Calves today\"}", 23);
    assert_true(wire_request_header(request, "Content-Type", "application/json"));
    return request;
}

static void note(WireResponse *response, void *context);

static void send_one(World *world, WireRequest *request)
{
    world->inside_submit = true;
    net_submit(world->net, request, note, world);
    world->inside_submit = false;
}

static void note(WireResponse *response, void *context)
{
    World *world = context;
    assert_false(world->inside_submit);
    g_ptr_array_add(world->responses, response);
    uv_stop(
        &world->loop); /* else a turn that had its news from a timer goes on to wait for a socket */
    if (world->again > 0) {
        world->again--;
        send_one(world, text_message(world));
    }
}

static void settle(World *world)
{
    while (world->net->in_flight(world->net) > 0) {
        if (world->server != NULL)
            uv_run(&world->loop, UV_RUN_ONCE);
        else
            net_memory_pump(world->net);
    }
}

static const WireResponse *only_response(World *world)
{
    settle(world);
    assert_int_equal(world->responses->len, 1);
    return world->responses->pdata[0];
}

static void assert_body(const WireResponse *response, const char *expected)
{
    size_t length;
    const char *body = g_bytes_get_data(response->body, &length);
    assert_int_equal(length, strlen(expected));
    if (length > 0) assert_memory_equal(body, expected, length);
}

static void gateway_accepts(void **state)
{
    World *world = *state;
    send_one(world, text_message(world));
    assert_int_equal(world->net->in_flight(world->net), 1);
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_int_equal(response->status, 202);
    assert_string_equal(response->content_type, "application/json");
    assert_int_equal(response->retry_after_s, 7);
    assert_null(response->error);
    assert_body(response, "{\"id\":\"m1\"}");
}

static void gateway_shows_a_page_instead(void **state)
{
    World *world = *state;
    world->mood = GATEWAY_SHOWS_PAGE;
    send_one(world, text_message(world));
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_string_equal(response->content_type, "text/html");
    assert_int_equal(response->retry_after_s, -1);
}

static void gateway_hangs_up_after_the_request(void **state)
{
    World *world = *state;
    world->mood = GATEWAY_HANGS_UP;
    send_one(world, text_message(world));
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_int_equal(response->status, 0);
    assert_non_null(response->error);
    assert_int_equal(world->delivered, 1);
}

static void gateway_half_answers(void **state)
{
    World *world = *state;
    world->mood = GATEWAY_HALF_ANSWERS;
    send_one(world, text_message(world));
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_body(response, "");
    assert_int_equal(world->delivered, 1);
}

static void answer_is_larger_than_allowed(void **state)
{
    World *world = *state;
    world->mood = GATEWAY_ANSWERS_MUCH;
    WireRequest *request = text_message(world);
    request->answer_max = MUCH - 1;
    send_one(world, request);
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_UNSURE);
    assert_string_equal(response->error, "answer larger than 299999 bytes");
}

static void answer_is_as_large_as_allowed(void **state)
{
    World *world = *state;
    world->mood = GATEWAY_ANSWERS_MUCH;
    WireRequest *request = text_message(world);
    request->answer_max = MUCH;
    send_one(world, request);
    assert_int_equal(g_bytes_get_size(only_response(world)->body), MUCH);
}

static void end_has_passed(void **state)
{
    World *world = *state;
    WireRequest *request = text_message(world);
    request->end_ms = world->now_ms - 1;
    send_one(world, request);
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_int_equal(world->delivered, 0);
}

static void end_is_this_very_instant(void **state)
{
    World *world = *state;
    WireRequest *request = text_message(world);
    request->end_ms = world->now_ms;
    send_one(world, request);
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_ANSWERED);
    assert_false(response->end_passed);
}

static void end_passes_between_submission_and_sending(void **state)
{
    World *world = *state;
    WireRequest *request = text_message(world);
    request->end_ms = world->now_ms;
    send_one(world, request);
    world->now_ms++;
    const WireResponse *response = only_response(world);
    assert_int_equal(response->phase, PHASE_NEVER_LEFT);
    assert_true(response->end_passed);
    assert_int_equal(world->delivered, 0);
}

static void sixty_four_at_once(void **state)
{
    World *world = *state;
    for (int i = 0; i < 64; i++)
        send_one(world, text_message(world));
    assert_int_equal(world->net->in_flight(world->net), 64);
    settle(world);
    assert_int_equal(world->responses->len, 64);
    assert_int_equal(world->delivered, 64);
    for (guint i = 0; i < 64; i++) {
        const WireResponse *response = world->responses->pdata[i];
        assert_int_equal(response->status, 202);
    }
}

static void one_answer_leads_to_the_next_request(void **state)
{
    World *world = *state;
    world->again = 5;
    send_one(world, text_message(world));
    settle(world);
    assert_int_equal(world->responses->len, 6);
    assert_int_equal(world->delivered, 6);
}

/* Closes the carrier at the end of the scenario's own doing; the teardown sees that all memory is
 * given back. */
static void closed_while_in_flight(void **state)
{
    World *world = *state;
    for (int i = 0; i < 3; i++)
        send_one(world, text_message(world));
    world->again = 1; /* even a request made while closing hears of its end */
    world->net->close(world->net);
    world->net = NULL;
    assert_int_equal(world->responses->len, 4);
    for (guint i = 0; i < 4; i++) {
        const WireResponse *response = world->responses->pdata[i];
        assert_int_equal(response->phase, PHASE_NEVER_LEFT);
        assert_non_null(response->error);
    }
    assert_int_equal(world->delivered, 0);
}

static World *world_new(void)
{
    World *world = g_new0(World, 1);
    world->now_ms = 1772438400000; /* 2026-03-02 08:00 UTC */
    world->responses = g_ptr_array_new_with_free_func((GDestroyNotify)wire_response_free);
    uv_loop_init(&world->loop);
    return world;
}

static int with_curl(void **state)
{
    World *world = world_new();
    NetCurlOptions options = {
        .loopback_only = true, .wall_ms = wall, .wall_context = world, .connections_max = 16};
    char *why = NULL;
    world->server = script_server_new(&world->loop, answer_on_the_wire, world);
    world->net = net_curl_new(&world->loop, &options, &why);
    *state = world;
    return world->net ? 0 : -1;
}

static int with_twin(void **state)
{
    World *world = world_new();
    NetMemoryOptions options = {answer_as_value, world, wall, world};
    world->net = net_memory_new(&options);
    *state = world;
    return 0;
}

static int end_world(void **state)
{
    World *world = *state;
    if (world->net != NULL) world->net->close(world->net);
    if (world->server != NULL) script_server_close(world->server);
    while (uv_loop_alive(&world->loop))
        uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    g_ptr_array_unref(world->responses);
    g_free(world);
    return 0;
}

typedef struct {
    const char *name;
    CMUnitTestFunction run;
} Scenario;

static const Scenario scenarios[] = {
    {"gateway_accepts", gateway_accepts},
    {"gateway_shows_a_page_instead", gateway_shows_a_page_instead},
    {"gateway_hangs_up_after_the_request", gateway_hangs_up_after_the_request},
    {"gateway_half_answers", gateway_half_answers},
    {"answer_is_larger_than_allowed", answer_is_larger_than_allowed},
    {"answer_is_as_large_as_allowed", answer_is_as_large_as_allowed},
    {"end_has_passed", end_has_passed},
    {"end_is_this_very_instant", end_is_this_very_instant},
    {"end_passes_between_submission_and_sending", end_passes_between_submission_and_sending},
    {"sixty_four_at_once", sixty_four_at_once},
    {"one_answer_leads_to_the_next_request", one_answer_leads_to_the_next_request},
    {"closed_while_in_flight", closed_while_in_flight},
};

int main(void)
{
    signal(SIGPIPE, SIG_IGN);
    struct CMUnitTest curl[G_N_ELEMENTS(scenarios)];
    struct CMUnitTest twin[G_N_ELEMENTS(scenarios)];
    for (size_t i = 0; i < G_N_ELEMENTS(scenarios); i++) {
        curl[i] =
            (struct CMUnitTest){scenarios[i].name, scenarios[i].run, with_curl, end_world, NULL};
        twin[i] =
            (struct CMUnitTest){scenarios[i].name, scenarios[i].run, with_twin, end_world, NULL};
    }
    return cmocka_run_group_tests_name("net on libcurl", curl, NULL, NULL) +
           cmocka_run_group_tests_name("net in memory", twin, NULL, NULL);
}
