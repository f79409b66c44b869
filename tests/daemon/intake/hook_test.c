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
#include "tests/support/folder.h"
#include "tests/support/settings.h"

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
    char *folder;
    Settings *settings;
    Clock *clock;
    Random *random;
    Store *store;
    Desk *desk;
    Hooks *hooks;
    Serve *serve;
    int posted;
    int status; /* of the last answer */
} World;

static void hear(ServeRequest *request, void *context)
{
    hooks_hear(((World *)context)->hooks, request);
}

static void write_settings(World *world)
{
    g_autofree char *plain = settings_plain("Alder Row", "", "");
    *strstr(plain, "gateways:") = '\0'; /* its last section, in place of which ours comes */
    g_autofree char *text = g_strconcat(plain, GATEWAY, NULL);

    world->folder = folder_new();
    folder_write(world->folder, "clinic.yaml", text, -1, 0600);
}

static int world_open(void **state)
{
    static const ServeLimits LIMITS = {.body_max = 65536, .connections_max = 10};
    World *world = g_new0(World, 1);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    int64_t start_ms;

    assert_true(instant_parse("2026-03-02T08:00:00Z", &start_ms));
    write_settings(world);
    world->settings = settings_load(world->folder, messages);
    if (messages->len > 0) print_message("%s\n", (const char *)messages->pdata[0]);
    assert_non_null(world->settings);
    world->clock = clock_stepped_new(start_ms);
    world->random = random_seeded_new(1);
    world->store = store_memory_new("AAAAAAAAAAAAAAAA", start_ms);
    world->desk = desk_new(world->store, world->clock, world->random, world->settings);
    world->hooks = hooks_new(world->desk);
    world->serve = serve_memory_new(&LIMITS, hear, world);
    *state = world;
    return 0;
}

static void pump(World *world)
{
    while (store_memory_pump(world->store) > 0)
        continue;
}

static int world_close(void **state)
{
    World *world = *state;

    pump(world);
    world->serve->close(world->serve);
    hooks_free(world->hooks);
    desk_free(world->desk);
    world->store->close(world->store);
    random_free(world->random);
    clock_free(world->clock);
    settings_unref(world->settings);
    folder_remove(world->folder);
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
    pump(world);
    assert_int_equal(world->status, 200);
}

static void not_acknowledged_where_it_cannot_be_kept(void **state)
{
    World *world = *state;

    store_memory_fail(world->store, 1, STORE_FULL);
    assert_int_equal(post(world), 0);
    store_memory_pump(world->store);
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
    clock_move(world->clock, clock_now(world->clock) + 1000);
    assert_int_equal(post(world), 0);
    pump(world);
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
