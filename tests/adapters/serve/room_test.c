/* SPDX-License-Identifier: Apache-2.0 */
/* A listener of three connections, whose connections yield: who makes room for whoever comes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/serve/serve_mhd.h"
#include "tests/support/raw_client.h"

typedef struct {
    uv_loop_t loop;
    Serve *serve;
    int handled;
    ServeRequest *held;
    bool hold;
    bool known; /* whoever asks is */
} World;

static const ServeLimits LIMITS = {
    .body_max = 1000, .connections_max = 3, .idle_timeout_s = 20, .yields = true};

static const char get[] = "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n";

static void handle(ServeRequest *request, void *context)
{
    World *world = context;

    world->handled++;
    if (world->known) serve_known(request);
    if (world->hold)
        world->held = request;
    else
        serve_answer(request, 200, NULL, NULL, NULL);
}

static int begin(void **state)
{
    World *world = g_new0(World, 1);
    char *why = NULL;

    *state = world;
    uv_loop_init(&world->loop);
    world->serve = serve_tcp_new(&world->loop, "127.0.0.1:0", &LIMITS, handle, world, &why);
    return world->serve != NULL ? 0 : -1;
}

static int end(void **state)
{
    World *world = *state;

    world->serve->close(world->serve);
    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    g_free(world);
    return 0;
}

static RawClient *client_of(World *world)
{
    return raw_client_tcp(&world->loop, serve_port(world->serve));
}

static void say(RawClient *client, const char *text)
{
    raw_client_send(client, text, strlen(text));
}

static bool is_answered(World *world, RawClient *client)
{
    int before = world->handled;

    say(client, get);
    return raw_client_answer(client, NULL) == 200 && world->handled == before + 1;
}

/* Three hold what there is and say half a word: whoever comes is heard, and the first of them goes. */
static void silent_ones_make_room(void **state)
{
    World *world = *state;
    RawClient *silent[3];

    for (int i = 0; i < 3; i++) {
        silent[i] = client_of(world);
        say(silent[i], "GET / HT");
    }
    RawClient *person = client_of(world);
    assert_true(is_answered(world, person));
    raw_client_wait_end(silent[0]);
    for (int i = 0; i < 20; i++) {
        RawClient *more = client_of(world);
        say(more, "GET /");
        raw_client_close(more);
    }
    RawClient *another = client_of(world);
    assert_true(is_answered(world, another));
    raw_client_close(another);
    raw_client_close(person);
    for (int i = 0; i < 3; i++)
        raw_client_close(silent[i]);
}

static void who_is_known_stays(void **state)
{
    World *world = *state;
    RawClient *person = client_of(world);
    RawClient *silent[9];

    world->known = true;
    assert_true(is_answered(world, person));
    for (int i = 0; i < 9; i++)
        silent[i] = client_of(world);
    assert_true(is_answered(world, person)); /* the oldest by far */
    for (int i = 0; i < 9; i++)
        raw_client_close(silent[i]);
    raw_client_close(person);
}

static void who_comes_from_elsewhere_stays(void **state)
{
    World *world = *state;
    RawClient *person = raw_client_tcp_from(&world->loop, "127.0.0.2", serve_port(world->serve));
    RawClient *silent[9];

    for (int i = 0; i < 9; i++)
        silent[i] = client_of(world);
    assert_true(is_answered(world, person));
    for (int i = 0; i < 9; i++)
        raw_client_close(silent[i]);
    raw_client_close(person);
}

/* What we are at work for is not cut off: then there is no room. */
static void whom_we_keep_waiting_is_not_cut_off(void **state)
{
    World *world = *state;
    RawClient *waiting[3];

    world->hold = true;
    for (int i = 0; i < 3; i++) {
        waiting[i] = client_of(world);
        say(waiting[i], get);
        while (world->handled <= i)
            uv_run(&world->loop, UV_RUN_ONCE);
        if (i < 2) serve_answer(world->held, 200, NULL, NULL, NULL);
    }
    world->hold = false;
    RawClient *person = client_of(world);
    assert_true(is_answered(world, person));
    serve_answer(world->held, 200, NULL, NULL, NULL);
    assert_int_equal(raw_client_answer(waiting[2], NULL), 200);
    raw_client_close(person);
    for (int i = 0; i < 3; i++)
        raw_client_close(waiting[i]);
}

#define SCENARIO(name) cmocka_unit_test_setup_teardown(name, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        SCENARIO(silent_ones_make_room),
        SCENARIO(who_is_known_stays),
        SCENARIO(who_comes_from_elsewhere_stays),
        SCENARIO(whom_we_keep_waiting_is_not_cut_off),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
