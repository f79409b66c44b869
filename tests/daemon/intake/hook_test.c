/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway's posts, up to more than any gateway means. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/serve/serve_memory.h"
#include "adapters/store/store_memory.h"
#include "daemon/intake/hook.h"
#include "tests/support/twin_desk.h"

enum { A_SECOND = 10000 };

static const char GATEWAY[] =
    "hooks: {listen: \"127.0.0.1:8751\"}\n"
    "gateways:\n"
    "  texts:\n"
    "    kind: http-sms\n"
    "    send: {url: \"http://127.0.0.1:9/\", json: {to: \"{to}\", text: \"{text}\"}, accepted: "
    "{status: [200]}}\n"
    "    webhook: {path: /in, id: /id, from: /from, text: /text, signature: none}\n";

typedef struct {
    TwinDesk twin;
    Hooks *hooks;
    Serve *serve;
    int posted;
    int status; /* of the last answer */
} World;

static void hear(ServeRequest *request, void *context)
{
    hooks_hear(((World *)context)->hooks, request);
}

static int world_open(void **state)
{
    static const ServeLimits LIMITS = {.body_max = 65536, .connections_max = 10};
    World *world = g_new0(World, 1);

    twin_desk_open(&world->twin, GATEWAY);
    world->hooks = hooks_new(world->twin.desk);
    world->serve = serve_memory_new(&LIMITS, hear, world);
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    twin_desk_settle(&world->twin);
    world->serve->close(world->serve);
    hooks_free(world->hooks);
    twin_desk_close(&world->twin);
    g_free(world);
    return 0;
}

static void answered(const ServeMemoryAnswer *answer, void *context)
{
    ((World *)context)->status = answer->status;
}

/* The status of one more post, another message each time; 0: none before the commit. */
static int post(World *world)
{
    g_autofree char *body = g_strdup_printf(
        "{\"id\":\"%d\",\"from\":\"+442079460001\",\"text\":\"thanks\"}", world->posted++);

    world->status = 0;
    serve_memory_request(world->serve, "POST", "/in", NULL, body, strlen(body), answered, world);
    return world->status;
}

static void acknowledged_after_the_commit(void **state)
{
    World *world = *state;

    assert_int_equal(post(world), 0);
    twin_desk_settle(&world->twin);
    assert_int_equal(world->status, 200);
}

static void not_acknowledged_where_it_cannot_be_kept(void **state)
{
    World *world = *state;

    store_memory_fail(world->twin.store, 1, STORE_FULL);
    assert_int_equal(post(world), 0);
    store_memory_pump(world->twin.store);
    assert_int_equal(world->status, 503);
}

/* As many in a second as no store takes in are turned away, until the next second. */
static void more_than_any_gateway_means(void **state)
{
    World *world = *state;

    for (int i = 0; i < A_SECOND; i++)
        assert_int_equal(post(world), 0);
    assert_int_equal(post(world), 429);
    assert_int_equal(post(world), 429);
    clock_move(world->twin.clock, clock_now(world->twin.clock) + 1000);
    assert_int_equal(post(world), 0);
    twin_desk_settle(&world->twin);
    assert_int_equal(world->status, 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(acknowledged_after_the_commit, world_open, world_close),
        cmocka_unit_test_setup_teardown(not_acknowledged_where_it_cannot_be_kept, world_open,
                                        world_close),
        cmocka_unit_test_setup_teardown(more_than_any_gateway_means, world_open, world_close),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
