/* SPDX-License-Identifier: Apache-2.0 */
/* The serve port's contract, told once and kept by both sides: libmicrohttpd, and the twin. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/serve/serve_memory.h"
#include "adapters/serve/serve_mhd.h"
#include "tests/support/raw_client.h"

enum { BODY_MAX = 12 * 1024 * 1024 };

typedef struct {
    int status;
    GBytes *body;
    char *type;
} Answer;

typedef struct {
    bool real;
    bool hold; /* the handler keeps requests instead of answering */
    Serve *serve;
    uv_loop_t loop;
    int handled;
    GPtrArray *held;    /* of ServeRequest */
    GPtrArray *clients; /* of RawClient, real side only */
    GPtrArray *answers; /* of Answer, in the order of the questions */
    char *path, *query, *header, *method;
} World;

static void answer_free(void *item)
{
    Answer *answer = item;
    if (answer == NULL) return;
    g_clear_pointer(&answer->body, g_bytes_unref);
    g_free(answer->type);
    g_free(answer);
}

static void keep(char **slot, const char *value)
{
    g_free(*slot);
    *slot = g_strdup(value);
}

static void handle(ServeRequest *request, void *context)
{
    World *world = context;
    world->handled++;
    keep(&world->method, serve_method(request));
    keep(&world->path, serve_path(request));
    keep(&world->query, serve_query(request, "q"));
    keep(&world->header, serve_header(request, "x-two"));
    if (world->hold)
        g_ptr_array_add(world->held, request);
    else
        serve_answer(request, 200, "text/plain", NULL, g_bytes_ref(serve_body(request)));
}

static void note(const ServeMemoryAnswer *answer, void *context)
{
    Answer *kept = context;
    assert_int_equal(kept->status, 0);
    kept->status = answer->status;
    kept->body = g_bytes_ref(answer->body);
    kept->type = g_strdup(answer->content_type);
}

static void ask_on_the_wire(World *world, const char *method, const char *target,
                            const char *const *headers, const char *body, size_t length)
{
    RawClient *client = raw_client_tcp(&world->loop, serve_port(world->serve));
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_printf(text, "%s %s HTTP/1.1\r\nHost: localhost\r\nContent-Length: %zu\r\n", method,
                    target, length);
    for (; headers != NULL && *headers != NULL; headers++)
        g_string_append_printf(text, "%s\r\n", *headers);
    g_string_append(text, "\r\n");
    g_string_append_len(text, body, (gssize)length);
    raw_client_send(client, text->str, text->len);
    g_ptr_array_add(world->clients, client);
}

static void ask_with(World *world, const char *method, const char *target,
                     const char *const *headers, const char *body, size_t length)
{
    Answer *answer = g_new0(Answer, 1);
    g_ptr_array_add(world->answers, answer);
    if (world->real)
        ask_on_the_wire(world, method, target, headers, body, length);
    else
        serve_memory_request(world->serve, method, target, headers, body, length, note, answer);
}

static void ask(World *world, const char *method, const char *target)
{
    ask_with(world, method, target, NULL, "", 0);
}

static const Answer *answer(World *world, guint index)
{
    Answer *kept = world->answers->pdata[index];
    if (!world->real || kept->status != 0) return kept;
    RawClient *client = world->clients->pdata[index];
    kept->status = raw_client_answer(client, &kept->body);
    const char *type = strstr(raw_client_head(client), "Content-Type: ");
    if (type != NULL) kept->type = g_strndup(type + 14, strcspn(type + 14, "\r"));
    return kept;
}

/* Until the handler has seen so many requests. */
static void wait_handled(World *world, int count)
{
    while (world->real && world->handled < count)
        uv_run(&world->loop, UV_RUN_ONCE);
    assert_int_equal(world->handled, count);
}

static void wait_none_open(World *world)
{
    while (world->real && world->serve->open_requests(world->serve) > 0)
        uv_run(&world->loop, UV_RUN_ONCE);
    assert_int_equal(world->serve->open_requests(world->serve), 0);
}

static void answered_at_once(void **state)
{
    World *world = *state;
    ask_with(world, "POST", "/hooks/texts", NULL, "hello", 5);
    const Answer *got = answer(world, 0);
    assert_int_equal(got->status, 200);
    assert_string_equal(got->type, "text/plain");
    assert_int_equal(g_bytes_get_size(got->body), 5);
    assert_memory_equal(g_bytes_get_data(got->body, NULL), "hello", 5);
    assert_string_equal(world->method, "POST");
    assert_string_equal(world->path, "/hooks/texts");
    assert_null(world->query);
    assert_null(world->header);
    wait_none_open(world);
}

static void answered_later_and_in_another_order(void **state)
{
    World *world = *state;
    world->hold = true;
    ask(world, "GET", "/first");
    wait_handled(world, 1);
    ask(world, "GET", "/second");
    wait_handled(world, 2);
    assert_int_equal(world->serve->open_requests(world->serve), 2);
    serve_answer_json(world->held->pdata[1], 200, g_strdup("{\"n\":2}"));
    assert_int_equal(answer(world, 1)->status, 200);
    assert_string_equal(answer(world, 1)->type, "application/json");
    serve_answer(world->held->pdata[0], 204, NULL, NULL, NULL);
    assert_int_equal(answer(world, 0)->status, 204);
    assert_null(answer(world, 0)->type);
    wait_none_open(world);
}

static void body_is_too_large(void **state)
{
    World *world = *state;
    g_autofree char *body = g_malloc0(BODY_MAX + 1);
    ask_with(world, "POST", "/", NULL, body, BODY_MAX + 1);
    assert_int_equal(answer(world, 0)->status, 413);
    assert_int_equal(world->handled, 0);
    assert_int_equal(world->serve->open_requests(world->serve), 0);
}

static void large_body_with_nuls_survives(void **state)
{
    World *world = *state;
    size_t length = 10 * 1024 * 1024;
    g_autofree char *body = g_malloc(length);
    for (size_t i = 0; i < length; i++)
        body[i] = (char)(i * 7 >> 3);
    ask_with(world, "POST", "/bundle", NULL, body, length);
    const Answer *got = answer(world, 0);
    assert_int_equal(g_bytes_get_size(got->body), length);
    assert_memory_equal(g_bytes_get_data(got->body, NULL), body, length);
}

static void target_is_decoded(void **state)
{
    World *world = *state;
    ask(world, "GET", "/clients/caf%C3%A9?all&q=a+b%26c%3D&x=1");
    assert_int_equal(answer(world, 0)->status, 200);
    assert_string_equal(world->path, "/clients/caf\xC3\xA9");
    assert_string_equal(world->query, "a b&c=");
}

static void target_that_cannot_be_decoded(void **state)
{
    World *world = *state;
    const char *const targets[] = {"/a%00b",  "/a%2Fb",     "/%zz", "/%C3",
                                   "/?q=%00", "/?q=%E0%80", "*"};
    for (guint i = 0; i < G_N_ELEMENTS(targets); i++) {
        ask(world, "GET", targets[i]);
        assert_int_equal(answer(world, i)->status, 400);
    }
    assert_int_equal(world->handled, 0);
}

static void header_that_comes_twice(void **state)
{
    World *world = *state;
    const char *const headers[] = {"X-Two: one", "x-tWO: two", NULL};
    ask_with(world, "GET", "/", headers, "", 0);
    assert_int_equal(answer(world, 0)->status, 200);
    assert_string_equal(world->header, "one, two");
}

static void sixty_four_at_once(void **state)
{
    World *world = *state;
    world->hold = true;
    for (int i = 0; i < 64; i++)
        ask(world, "GET", "/");
    wait_handled(world, 64);
    assert_int_equal(world->serve->open_requests(world->serve), 64);
    for (guint i = 0; i < 64; i++)
        serve_answer(world->held->pdata[i], 202, NULL, NULL, NULL);
    for (guint i = 0; i < 64; i++)
        assert_int_equal(answer(world, i)->status, 202);
    wait_none_open(world);
}

static void closed_while_requests_are_open(void **state)
{
    World *world = *state;
    world->hold = true;
    ask(world, "GET", "/");
    ask(world, "GET", "/");
    wait_handled(world, 2);
    world->serve->close(world->serve);
    world->serve = NULL;
    assert_int_equal(answer(world, 0)->status, 503);
    assert_int_equal(answer(world, 1)->status, 503);
    /* The work that was under way comes to its end, and nobody is hurt. */
    for (guint i = 0; i < 2; i++)
        serve_answer(world->held->pdata[i], 200, NULL, NULL, NULL);
}

static World *world_new(void)
{
    World *world = g_new0(World, 1);
    world->held = g_ptr_array_new();
    world->clients = g_ptr_array_new_with_free_func((GDestroyNotify)raw_client_close);
    world->answers = g_ptr_array_new_with_free_func(answer_free);
    uv_loop_init(&world->loop);
    return world;
}

static const ServeLimits limits = {
    .body_max = BODY_MAX, .connections_max = 100, .idle_timeout_s = 30};

static int with_microhttpd(void **state)
{
    World *world = world_new();
    char *why = NULL;
    world->real = true;
    world->serve = serve_tcp_new(&world->loop, "127.0.0.1:0", &limits, handle, world, &why);
    *state = world;
    return world->serve ? 0 : -1;
}

static int with_twin(void **state)
{
    World *world = world_new();
    world->serve = serve_memory_new(&limits, handle, world);
    *state = world;
    return 0;
}

static int end_world(void **state)
{
    World *world = *state;
    if (world->serve != NULL) world->serve->close(world->serve);
    g_ptr_array_unref(world->clients);
    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    g_ptr_array_unref(world->held);
    g_ptr_array_unref(world->answers);
    g_free(world->path);
    g_free(world->query);
    g_free(world->header);
    g_free(world->method);
    g_free(world);
    return 0;
}

typedef struct {
    const char *name;
    CMUnitTestFunction run;
} Scenario;

static const Scenario scenarios[] = {
    {"answered_at_once", answered_at_once},
    {"answered_later_and_in_another_order", answered_later_and_in_another_order},
    {"body_is_too_large", body_is_too_large},
    {"large_body_with_nuls_survives", large_body_with_nuls_survives},
    {"target_is_decoded", target_is_decoded},
    {"target_that_cannot_be_decoded", target_that_cannot_be_decoded},
    {"header_that_comes_twice", header_that_comes_twice},
    {"sixty_four_at_once", sixty_four_at_once},
    {"closed_while_requests_are_open", closed_while_requests_are_open},
};

int main(void)
{
    signal(SIGPIPE, SIG_IGN);
    struct CMUnitTest real[G_N_ELEMENTS(scenarios)];
    struct CMUnitTest twin[G_N_ELEMENTS(scenarios)];
    for (size_t i = 0; i < G_N_ELEMENTS(scenarios); i++) {
        real[i] = (struct CMUnitTest){scenarios[i].name, scenarios[i].run, with_microhttpd,
                                      end_world, NULL};
        twin[i] =
            (struct CMUnitTest){scenarios[i].name, scenarios[i].run, with_twin, end_world, NULL};
    }
    return cmocka_run_group_tests_name("serve on libmicrohttpd", real, NULL, NULL) +
           cmocka_run_group_tests_name("serve in memory", twin, NULL, NULL);
}
