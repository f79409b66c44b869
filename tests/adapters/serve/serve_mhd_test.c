/* SPDX-License-Identifier: Apache-2.0 */
/* What only the real listener can get wrong: sockets, kept connections, slow and rude clients,
 * limits. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "adapters/serve/serve_mhd.h"
#include "tests/support/raw_client.h"

typedef struct {
    uv_loop_t loop;
    Serve *serve;
    int handled;
    ServeRequest *held;
    bool hold;
    bool close_within; /* the handler closes the listener before it answers */
    bool broken;       /* the answer has a header of two lines */
    bool large;        /* the answer is large */
    char *dir;
    char *path; /* of a socket in dir */
} World;

static const ServeLimits limits = {.body_max = 1000, .connections_max = 3, .idle_timeout_s = 1};

static void handle(ServeRequest *request, void *context)
{
    World *world = context;
    const char *const headers[] = {"X-Kind: plain",
                                   world->broken ? "X-Broken: a\r\nX-Smuggled: b" : NULL, NULL};
    world->handled++;
    if (world->close_within) {
        world->serve->close(world->serve);
        world->serve = NULL;
    }
    if (world->hold)
        world->held = request;
    else
        serve_answer(request, 200, NULL, headers,
                     world->large ? g_bytes_new_take(g_malloc0(8 << 20), 8 << 20) : NULL);
}

static RawClient *client_of(World *world)
{
    return raw_client_tcp(&world->loop, serve_port(world->serve));
}

static void say(RawClient *client, const char *text)
{
    raw_client_send(client, text, strlen(text));
}

static const char get[] = "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n";

static void several_requests_on_one_connection(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    for (int i = 0; i < 20; i++) {
        say(client, get);
        assert_int_equal(raw_client_answer(client, NULL), 200);
    }
    say(client,
        "GET / HTTP/1.1\r\nHost: localhost\r\n\r\nGET / HTTP/1.1\r\nHost: localhost\r\n\r\n");
    assert_int_equal(raw_client_answer(client, NULL), 200);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    assert_int_equal(world->handled, 22);
    raw_client_close(client);
}

static void header_that_would_smuggle_is_left_out(void **state)
{
    World *world = *state;
    world->broken = true;
    RawClient *client = client_of(world);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    assert_non_null(strstr(raw_client_head(client), "X-Kind: plain\r\n"));
    assert_null(strstr(raw_client_head(client), "X-Smuggled"));
    raw_client_close(client);
}

static void large_answer_to_a_slow_reader(void **state)
{
    World *world = *state;
    world->large = true;
    RawClient *client = client_of(world);
    GBytes *body = NULL;
    say(client, get);
    assert_int_equal(raw_client_answer(client, &body), 200);
    assert_int_equal(g_bytes_get_size(body), 8 << 20);
    g_bytes_unref(body);
    raw_client_close(client);
}

static void body_in_small_pieces(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    const char head[] = "POST /x HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n";
    for (const char *at = head; *at; at++) {
        raw_client_send(client, at, 1);
        uv_run(&world->loop, UV_RUN_NOWAIT);
    }
    say(client, "3\r\nabc\r\n");
    uv_run(&world->loop, UV_RUN_NOWAIT);
    assert_int_equal(world->handled, 0);
    say(client, "2\r\nde\r\n0\r\n\r\n");
    assert_int_equal(raw_client_answer(client, NULL), 200);
    raw_client_close(client);
}

static void chunked_body_is_too_large(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    g_autofree char *chunk = g_strnfill(1001, 'x');
    g_autofree char *text =
        g_strdup_printf("POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: "
                        "chunked\r\n\r\n3e9\r\n%s\r\n0\r\n\r\n",
                        chunk);
    say(client, text);
    assert_int_equal(raw_client_answer(client, NULL), 413);
    assert_int_equal(world->handled, 0);
    raw_client_close(client);
}

static void endless_body_is_cut_off(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    size_t much = 8 << 20;
    g_autofree char *chunk = g_strnfill(much, 'x');
    g_autofree char *head = g_strdup_printf(
        "POST / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n%zx\r\n", much);
    say(client, head);
    raw_client_send(client, chunk, much);
    raw_client_wait_end(client);
    assert_int_equal(world->handled, 0);
    raw_client_close(client);
}

static void client_that_asks_leave_hears_413_at_once(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    say(client, "POST / HTTP/1.1\r\nHost: localhost\r\nExpect: 100-continue\r\nContent-Length: "
                "1001\r\n\r\n");
    assert_int_equal(raw_client_answer(client, NULL), 413);
    raw_client_wait_end(client);
    raw_client_close(client);
}

static void requests_that_are_none(void **state)
{
    World *world = *state;
    g_autofree char *long_target = g_strnfill(100 * 1000, 'a');
    g_autofree char *too_long =
        g_strdup_printf("GET /%s HTTP/1.1\r\nHost: localhost\r\n\r\n", long_target);
    const char *const texts[] = {
        "\x16\x03\x01\x02",
        "GET\r\n\r\n",
        "GET / HTTP/1.1\r\n\r\n",
        too_long,
        "POST / HTTP/1.1\r\nHost: h\r\nContent-Length: -5\r\n\r\n",
        "POST / HTTP/1.1\r\nHost: h\r\nContent-Length: 99999999999999999999999\r\n\r\n"};
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++) {
        RawClient *client = client_of(world);
        say(client, texts[i]);
        int status = raw_client_answer(client, NULL); /* or the end, once the time-out has passed */
        assert_true(status == 0 || (status >= 400 && status < 500));
        raw_client_close(client);
    }
    assert_int_equal(world->handled, 0);
}

static void client_leaves_in_the_middle(void **state)
{
    World *world = *state;
    const char *const parts[] = {
        "GE", "GET / HTTP/1.1\r\nHost:",
        "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\nabc"};
    for (size_t i = 0; i < G_N_ELEMENTS(parts); i++) {
        RawClient *client = client_of(world);
        say(client, parts[i]);
        for (int turn = 0; turn < 3; turn++)
            uv_run(&world->loop, UV_RUN_NOWAIT);
        raw_client_close(client);
    }
    RawClient *client = client_of(world);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    assert_int_equal(world->handled, 1);
    raw_client_close(client);
}

static void client_leaves_while_the_handler_thinks(void **state)
{
    World *world = *state;
    world->hold = true;
    RawClient *client = client_of(world);
    say(client, get);
    while (world->handled == 0)
        uv_run(&world->loop, UV_RUN_ONCE);
    raw_client_close(client);
    for (int turn = 0; turn < 3; turn++)
        uv_run(&world->loop, UV_RUN_NOWAIT);
    assert_int_equal(world->serve->open_requests(world->serve), 1);
    serve_answer(world->held, 200, NULL, NULL, NULL);
    while (world->serve->open_requests(world->serve) > 0)
        uv_run(&world->loop, UV_RUN_ONCE);
}

static void silent_client_is_cut_off(void **state)
{
    World *world = *state;
    RawClient *client = client_of(world);
    say(client, "GET / HT");
    raw_client_wait_end(client);
    raw_client_close(client);
}

static void drip(uv_timer_t *timer)
{
    say(timer->data, "x");
}

static void timer_free(uv_handle_t *timer)
{
    g_free(timer);
}

/* A byte every 200 ms keeps the idle time-out away, but not the end of patience. */
static void dripping_client_is_cut_off(void **state)
{
    World *world = *state;
    uv_timer_t *timer = g_new0(uv_timer_t, 1);
    RawClient *client = client_of(world);
    say(client, "GET /");
    uv_timer_init(&world->loop, timer);
    timer->data = client;
    uv_timer_start(timer, drip, 200, 200);
    raw_client_wait_end(client);
    uv_close((uv_handle_t *)timer, timer_free);
    raw_client_close(client);
}

static void one_connection_too_many(void **state)
{
    World *world = *state;
    RawClient *clients[3];
    for (int i = 0; i < 3; i++) {
        clients[i] = client_of(world);
        say(clients[i], get);
        assert_int_equal(raw_client_answer(clients[i], NULL), 200);
    }
    RawClient *surplus = client_of(world);
    say(surplus, get);
    assert_int_equal(raw_client_answer(surplus, NULL), 0);
    raw_client_close(surplus);
    for (int i = 0; i < 3; i++)
        raw_client_close(clients[i]);
    for (int turn = 0; turn < 5; turn++)
        uv_run(&world->loop, UV_RUN_NOWAIT);
    RawClient *next = client_of(world);
    say(next, get);
    assert_int_equal(raw_client_answer(next, NULL), 200);
    raw_client_close(next);
}

static void closed_from_within_the_handler(void **state)
{
    World *world = *state;
    world->close_within = true;
    RawClient *client = client_of(world);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    raw_client_close(client);
}

static void closed_from_within_before_the_answer(void **state)
{
    World *world = *state;
    world->close_within = world->hold = true;
    RawClient *client = client_of(world);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 503);
    serve_answer(world->held, 200, NULL, NULL, NULL);
    raw_client_close(client);
}

/* One request waits in the handler; of another only the head has been read when listening ends, and the rest has arrived. */
static void closed_while_a_body_is_under_way(void **state)
{
    World *world = *state;
    world->hold = true;
    RawClient *waits = client_of(world);
    RawClient *sends = client_of(world);
    say(waits, get);
    while (world->handled == 0)
        uv_run(&world->loop, UV_RUN_ONCE);
    say(sends, "POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 3\r\n\r\n");
    for (int turn = 0; turn < 5; turn++)
        uv_run(&world->loop, UV_RUN_NOWAIT);
    ServeRequest *first = world->held;
    say(sends, "abc");
    world->serve->close(world->serve);
    world->serve = NULL;
    assert_int_equal(world->handled, 1);
    assert_int_equal(raw_client_answer(waits, NULL), 503);
    assert_int_equal(raw_client_answer(sends, NULL), 503);
    serve_answer(first, 200, NULL, NULL, NULL);
    raw_client_close(waits);
    raw_client_close(sends);
}

static Serve *on_unix(World *world, const char *path, char **why)
{
    return serve_unix_new(&world->loop, path, 0660, &limits, handle, world, why);
}

static void unix_socket(void **state)
{
    World *world = *state;
    char *why = NULL;
    struct stat found;
    world->serve = on_unix(world, world->path, &why);
    assert_non_null(world->serve);
    assert_int_equal(serve_port(world->serve), 0);
    assert_int_equal(stat(world->path, &found), 0);
    assert_int_equal(found.st_mode & 07777, 0660);
    RawClient *client = raw_client_unix(&world->loop, world->path);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    raw_client_close(client);
    world->serve->close(world->serve);
    world->serve = NULL;
    assert_int_not_equal(stat(world->path, &found), 0);
}

static void unix_socket_that_a_dead_process_left(void **state)
{
    World *world = *state;
    char *why = NULL;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    g_strlcpy(address.sun_path, world->path, sizeof address.sun_path);
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
    close(fd);
    world->serve = on_unix(world, world->path, &why);
    assert_non_null(world->serve);
}

static void unix_socket_that_is_in_use(void **state)
{
    World *world = *state;
    g_autofree char *why = NULL;
    world->serve = on_unix(world, world->path, &why);
    assert_null(on_unix(world, world->path, &why));
    assert_non_null(strstr(why, "somebody already listens"));
    RawClient *client = raw_client_unix(&world->loop, world->path);
    say(client, get);
    assert_int_equal(raw_client_answer(client, NULL), 200);
    raw_client_close(client);
}

static void something_else_is_in_the_way(void **state)
{
    World *world = *state;
    g_autofree char *why = NULL;
    g_autofree char *kept = NULL;
    assert_true(g_file_set_contents(world->path, "letters", -1, NULL));
    assert_null(on_unix(world, world->path, &why));
    assert_non_null(strstr(why, "is no socket"));
    assert_true(g_file_get_contents(world->path, &kept, NULL, NULL));
    assert_string_equal(kept, "letters");
    g_unlink(world->path);
}

static void path_is_too_long(void **state)
{
    World *world = *state;
    g_autofree char *why = NULL;
    g_autofree char *name = g_strnfill(108 - strlen(world->dir) - 1, 's');
    g_autofree char *longest = g_build_filename(world->dir, name, NULL);
    assert_int_equal(strlen(longest), 108);
    assert_null(on_unix(world, longest, &why));
    assert_non_null(strstr(why, "has 108 bytes; a socket's may have 107"));
    longest[107] = '\0';
    g_clear_pointer(&why, g_free);
    world->serve = on_unix(world, longest, &why);
    assert_non_null(world->serve);
}

static void addresses_that_are_none(void **state)
{
    World *world = *state;
    const char *const texts[] = {
        "",        "8750",        "127.0.0.1", "localhost:8750", "127.0.0.1:", "127.0.0.1:65536",
        "[::1:80", "127.0.0.1:-1"};
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++) {
        g_autofree char *why = NULL;
        assert_null(serve_tcp_new(&world->loop, texts[i], &limits, handle, world, &why));
        assert_non_null(strstr(why, "no address to listen on"));
    }
}

static void port_is_taken(void **state)
{
    World *world = *state;
    g_autofree char *why = NULL;
    g_autofree char *taken = g_strdup_printf("127.0.0.1:%d", serve_port(world->serve));
    assert_null(serve_tcp_new(&world->loop, taken, &limits, handle, world, &why));
    assert_non_null(strstr(why, taken));
}

static int without_listener(void **state)
{
    World *world = g_new0(World, 1);
    uv_loop_init(&world->loop);
    world->dir = g_dir_make_tmp("osier-serve-XXXXXX", NULL);
    world->path = g_build_filename(world->dir, "d.sock", NULL);
    *state = world;
    return 0;
}

static int with_listener(void **state)
{
    char *why = NULL;
    without_listener(state);
    World *world = *state;
    world->serve = serve_tcp_new(&world->loop, "127.0.0.1:0", &limits, handle, world, &why);
    return world->serve ? 0 : -1;
}

static int end_world(void **state)
{
    World *world = *state;
    if (world->serve != NULL) world->serve->close(world->serve);
    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    assert_int_equal(g_rmdir(world->dir), 0);
    g_free(world->dir);
    g_free(world->path);
    g_free(world);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(several_requests_on_one_connection, with_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(header_that_would_smuggle_is_left_out, with_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(large_answer_to_a_slow_reader, with_listener, end_world),
        cmocka_unit_test_setup_teardown(body_in_small_pieces, with_listener, end_world),
        cmocka_unit_test_setup_teardown(chunked_body_is_too_large, with_listener, end_world),
        cmocka_unit_test_setup_teardown(endless_body_is_cut_off, with_listener, end_world),
        cmocka_unit_test_setup_teardown(client_that_asks_leave_hears_413_at_once, with_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(requests_that_are_none, with_listener, end_world),
        cmocka_unit_test_setup_teardown(client_leaves_in_the_middle, with_listener, end_world),
        cmocka_unit_test_setup_teardown(client_leaves_while_the_handler_thinks, with_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(silent_client_is_cut_off, with_listener, end_world),
        cmocka_unit_test_setup_teardown(dripping_client_is_cut_off, with_listener, end_world),
        cmocka_unit_test_setup_teardown(one_connection_too_many, with_listener, end_world),
        cmocka_unit_test_setup_teardown(closed_from_within_the_handler, with_listener, end_world),
        cmocka_unit_test_setup_teardown(closed_from_within_before_the_answer, with_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(closed_while_a_body_is_under_way, with_listener, end_world),
        cmocka_unit_test_setup_teardown(unix_socket, without_listener, end_world),
        cmocka_unit_test_setup_teardown(unix_socket_that_a_dead_process_left, without_listener,
                                        end_world),
        cmocka_unit_test_setup_teardown(unix_socket_that_is_in_use, without_listener, end_world),
        cmocka_unit_test_setup_teardown(something_else_is_in_the_way, without_listener, end_world),
        cmocka_unit_test_setup_teardown(path_is_too_long, without_listener, end_world),
        cmocka_unit_test_setup_teardown(addresses_that_are_none, without_listener, end_world),
        cmocka_unit_test_setup_teardown(port_is_taken, with_listener, end_world),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
