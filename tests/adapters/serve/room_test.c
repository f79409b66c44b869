/* SPDX-License-Identifier: Apache-2.0 */
/* A listener of three connections, whose connections yield: who makes room for whoever comes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <arpa/inet.h>
#include <cmocka.h>

#include "adapters/serve/mhd_inside.h"
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

/* A crowd of one address, and somebody of another, who came first. */
static void stays(World *world, const char *person_from, const char *crowd_from)
{
    RawClient *person = raw_client_tcp_from(&world->loop, person_from, serve_port(world->serve));
    RawClient *silent[9];

    for (int i = 0; i < 9; i++)
        silent[i] = raw_client_tcp_from(&world->loop, crowd_from, serve_port(world->serve));
    assert_true(is_answered(world, person));
    for (int i = 0; i < 9; i++)
        raw_client_close(silent[i]);
    raw_client_close(person);
}

static void who_comes_from_elsewhere_stays(void **state)
{
    stays(*state, "127.0.0.2", "127.0.0.1");
    stays(*state, "127.1.2.3", "127.1.1.36");
}

static uint64_t site_of(const char *text)
{
    struct sockaddr_in four = {.sin_family = AF_INET};
    struct sockaddr_in6 six = {.sin6_family = AF_INET6};

    if (inet_pton(AF_INET, text, &four.sin_addr) == 1) return room_site((const void *)&four);
    assert_int_equal(inet_pton(AF_INET6, text, &six.sin6_addr), 1);
    return room_site((const void *)&six);
}

static void a_network_of_64_bits_is_one_site(void **state)
{
    (void)state;
    assert_true(site_of("2001:db8:0:1::1") == site_of("2001:db8:0:1:ffff:ffff:ffff:ffff"));
    assert_true(site_of("2001:db8:0:1::1") != site_of("2001:db8:0:2::1"));
    assert_true(site_of("2001:db8:0:203::") != site_of("2001:db8:0:124::"));
    assert_true(site_of("192.0.2.3") != site_of("192.0.1.36"));
    assert_true(site_of("::ffff:192.0.2.3") == site_of("192.0.2.3"));
    assert_true(room_site(NULL) == 0);
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
        cmocka_unit_test(a_network_of_64_bits_is_one_site),
        SCENARIO(whom_we_keep_waiting_is_not_cut_off),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
