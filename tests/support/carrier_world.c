/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/carrier_world.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static int64_t wall(void *context)
{
    CarrierWorld *world = context;
    int64_t now_ms = world->now_ms;
    world->now_ms += world->passing_ms;
    return now_ms;
}

static void note(WireResponse *response, void *context)
{
    CarrierWorld *world = context;
    assert_null(world->response);
    world->response = response;
    uv_stop(&world->loop);
}

Net *carrier_open(CarrierWorld *world)
{
    char *why = NULL;
    NetCurlOptions options = {
        .loopback_only = true, .wall_ms = wall, .wall_context = world, .connections_max = 2};
    return net_curl_new(&world->loop, &options, &why);
}

void carrier_submit(CarrierWorld *world, WireRequest *request)
{
    net_submit(world->net, request, note, world);
}

const WireResponse *carrier_exchange(CarrierWorld *world, WireRequest *request)
{
    g_clear_pointer(&world->response, wire_response_free);
    carrier_submit(world, request);
    while (world->response == NULL)
        uv_run(&world->loop, UV_RUN_ONCE);
    return world->response;
}

WireRequest *carrier_request(const CarrierWorld *world, ExchangeKind kind, const char *scheme,
                             const char *rest)
{
    g_autofree char *url =
        g_strdup_printf("%s://127.0.0.1:%d%s", scheme, script_server_port(world->server), rest);
    return wire_request_new(kind, url);
}

int carrier_world_new(void **state, Script *script)
{
    CarrierWorld *world = g_new0(CarrierWorld, 1);
    world->now_ms = 1772438400000; /* 2026-03-02 08:00 UTC */
    world->dialogue = g_string_new(NULL);
    world->mail = g_string_new(NULL);
    uv_loop_init(&world->loop);
    world->server = script_server_new(&world->loop, script, world);
    world->net = carrier_open(world);
    *state = world;
    return world->net ? 0 : -1;
}

int carrier_world_end(void **state)
{
    CarrierWorld *world = *state;
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
