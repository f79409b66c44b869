/* SPDX-License-Identifier: Apache-2.0 */
/* Answers that go on, told once and kept by libmicrohttpd and by the twin. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>

#include <arpa/inet.h>
#include <cmocka.h>
#include <fcntl.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "adapters/serve/serve_memory.h"
#include "adapters/serve/serve_mhd.h"

enum { STREAMS_MAX = 2, GUESTS = 3, PATIENCE_S = 20 };

typedef struct {
    int fd; /* real side */
    GString *heard;
    bool ended;
} Guest;

typedef struct {
    bool real;
    uv_loop_t loop;
    Serve *serve;
    GPtrArray *streams; /* of ServeStream, NULL where there was no room */
    int gone;
    Guest guests[GUESTS];
} World;

static void gone(void *context)
{
    ((World *)context)->gone++;
}

static void handle(ServeRequest *request, void *context)
{
    static const char *const ALSO[] = {"X-Also: yes", NULL};
    static const char *const MORE[] = {"X-More: yes", NULL};
    World *world = context;

    serve_also(request, ALSO);
    serve_also(request, MORE);
    g_ptr_array_add(world->streams,
                    serve_stream(request, "text/event-stream", ":\n\n", gone, world));
}

static void told(const ServeMemoryAnswer *answer, void *context)
{
    Guest *guest = context;
    gsize size;
    const char *bytes = g_bytes_get_data(answer->body, &size);

    g_string_append_printf(guest->heard, "HTTP/1.1 %d\n", answer->status);
    g_string_append_len(guest->heard, bytes, (gssize)size);
    guest->ended = true;
}

static void turn(World *world)
{
    char bytes[4096];

    uv_run(&world->loop, UV_RUN_NOWAIT);
    for (int i = 0; i < GUESTS; i++) {
        Guest *guest = &world->guests[i];
        if (!world->real || guest->fd < 0 || guest->ended) continue;
        ssize_t n = recv(guest->fd, bytes, sizeof bytes, MSG_DONTWAIT);
        if (n > 0) g_string_append_len(guest->heard, bytes, n);
        if (n == 0) guest->ended = true;
    }
}

static void visit(World *world, int number)
{
    static const char REQUEST[] = "GET /changes HTTP/1.1\r\nHost: localhost\r\n\r\n";
    struct sockaddr_in address = {.sin_family = AF_INET};
    Guest *guest = &world->guests[number];
    guint before = world->streams->len;

    if (!world->real) {
        serve_memory_request(world->serve, "GET", "/changes", NULL, "", 0, told, guest);
        return;
    }
    address.sin_port = htons((uint16_t)serve_port(world->serve));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    guest->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_int_equal(connect(guest->fd, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(write(guest->fd, REQUEST, strlen(REQUEST)), strlen(REQUEST));
    while (world->streams->len == before)
        turn(world);
}

/* Turns the loop until a guest has heard the words; the twin's hear all at the end. */
static void wait_heard(World *world, int number, const char *words)
{
    int64_t until_us = g_get_monotonic_time() + PATIENCE_S * G_USEC_PER_SEC;

    while (world->real && strstr(world->guests[number].heard->str, words) == NULL) {
        assert_true(g_get_monotonic_time() < until_us);
        turn(world);
    }
}

static void wait_gone(World *world, int count)
{
    int64_t until_us = g_get_monotonic_time() + PATIENCE_S * G_USEC_PER_SEC;

    while (world->gone < count) {
        assert_true(g_get_monotonic_time() < until_us);
        turn(world);
    }
    assert_int_equal(world->gone, count);
}

static void a_stream_is_heard_as_it_is_told(void **state)
{
    World *world = *state;

    visit(world, 0);
    assert_int_equal(world->serve->open_requests(world->serve), 0); /* it holds nobody up */
    serve_stream_send(world->streams->pdata[0], "event: one\n\n");
    wait_heard(world, 0, "event: one");
    serve_stream_send(world->streams->pdata[0], "event: two\n\n");
    wait_heard(world, 0, "event: two");
    assert_int_equal(world->gone, 0);
    serve_stream_end(world->streams->pdata[0]);
    wait_gone(world, 1);
    assert_non_null(strstr(world->guests[0].heard->str, "event: one\n\n"));
    assert_non_null(strstr(world->guests[0].heard->str, "event: two\n\n"));
    if (!world->real) return;
    assert_non_null(strstr(world->guests[0].heard->str, "X-Also: yes"));
    assert_non_null(strstr(world->guests[0].heard->str, "X-More: yes"));
}

static void there_are_only_so_many_streams(void **state)
{
    World *world = *state;

    for (int i = 0; i < GUESTS; i++)
        visit(world, i);
    assert_non_null(world->streams->pdata[1]);
    assert_null(world->streams->pdata[2]);
    wait_heard(world, 2, "HTTP/1.1 503");
    serve_stream_end(world->streams->pdata[0]);
    wait_gone(world, 1);
    serve_stream_end(world->streams->pdata[1]);
    wait_gone(world, 2);
}

static void a_listener_that_left_is_noticed_when_told(void **state)
{
    World *world = *state;

    visit(world, 0);
    serve_stream_send(world->streams->pdata[0], "event: one\n\n");
    wait_heard(world, 0, "event: one");
    close(world->guests[0].fd);
    world->guests[0].fd = -1;
    int64_t until_us = g_get_monotonic_time() + PATIENCE_S * G_USEC_PER_SEC;
    while (world->gone == 0) {
        serve_stream_send(world->streams->pdata[0], ":\n\n");
        turn(world);
        assert_true(g_get_monotonic_time() < until_us);
    }
}

/* Who does not read is let go before what waits for him is large. */
static void a_listener_that_does_not_read_is_let_go(void **state)
{
    World *world = *state;
    g_autofree char *much = g_strnfill(16 * 1024, 'x');

    visit(world, 0);
    Guest deaf = world->guests[0];
    world->guests[0].fd = -1;
    int64_t until_us = g_get_monotonic_time() + PATIENCE_S * G_USEC_PER_SEC;
    while (world->gone == 0) {
        serve_stream_send(world->streams->pdata[0], much);
        turn(world);
        assert_true(g_get_monotonic_time() < until_us);
    }
    close(deaf.fd);
}

static void closing_ends_streams(void **state)
{
    World *world = *state;

    visit(world, 0);
    visit(world, 1);
    world->serve->close(world->serve);
    world->serve = NULL;
    wait_gone(world, 2);
}

static World *world_new(void)
{
    World *world = g_new0(World, 1);

    world->streams = g_ptr_array_new();
    uv_loop_init(&world->loop);
    for (int i = 0; i < GUESTS; i++)
        world->guests[i] = (Guest){.fd = -1, .heard = g_string_new(NULL)};
    return world;
}

static const ServeLimits LIMITS = {
    .body_max = 1000, .connections_max = 100, .idle_timeout_s = 30, .streams_max = STREAMS_MAX};

static int with_microhttpd(void **state)
{
    World *world = world_new();
    char *why = NULL;

    world->real = true;
    world->serve = serve_tcp_new(&world->loop, "127.0.0.1:0", &LIMITS, handle, world, &why);
    *state = world;
    return world->serve != NULL ? 0 : -1;
}

static int with_twin(void **state)
{
    World *world = world_new();

    world->serve = serve_memory_new(&LIMITS, handle, world);
    *state = world;
    return 0;
}

static int end_world(void **state)
{
    World *world = *state;

    if (world->serve != NULL) world->serve->close(world->serve);
    for (int i = 0; i < GUESTS; i++) {
        if (world->guests[i].fd >= 0) close(world->guests[i].fd);
        g_string_free(world->guests[i].heard, TRUE);
    }
    uv_run(&world->loop, UV_RUN_DEFAULT);
    uv_loop_close(&world->loop);
    g_ptr_array_unref(world->streams);
    g_free(world);
    return 0;
}

#define SCENARIO(name, with) cmocka_unit_test_setup_teardown(name, with, end_world)

int main(void)
{
    signal(SIGPIPE, SIG_IGN);
    const struct CMUnitTest real[] = {
        SCENARIO(a_stream_is_heard_as_it_is_told, with_microhttpd),
        SCENARIO(there_are_only_so_many_streams, with_microhttpd),
        SCENARIO(a_listener_that_left_is_noticed_when_told, with_microhttpd),
        SCENARIO(a_listener_that_does_not_read_is_let_go, with_microhttpd),
        SCENARIO(closing_ends_streams, with_microhttpd),
    };
    const struct CMUnitTest twin[] = {
        SCENARIO(a_stream_is_heard_as_it_is_told, with_twin),
        SCENARIO(there_are_only_so_many_streams, with_twin),
        SCENARIO(closing_ends_streams, with_twin),
    };

    return cmocka_run_group_tests_name("streams on libmicrohttpd", real, NULL, NULL) +
           cmocka_run_group_tests_name("streams in memory", twin, NULL, NULL);
}
