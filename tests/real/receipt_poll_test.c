/* SPDX-License-Identifier: Apache-2.0 */
/* Receipts that osier asks the gateway for, page by page, over a real connection: they end as those that a webhook brings. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada; /* the welcome is the gateway's number 1 */
    char *ben; /* number 2; his reminder of 08:30 is number 3, hers of 08:40 number 4 */
} World;

static World world_open(void)
{
    World world = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};
    g_autofree char *receipts = g_strdup_printf(
        "receipts: {within: 2h,\n"
        "      poll: {url: \"http://127.0.0.1:%d/receipts?after={cursor}\", every: 60s,\n"
        "             items: /receipts, id: /about, status: /now, cursor: /after,\n"
        "             delivered: [there], failed: [gone]},\n"
        "      webhook:",
        stand_in_port(world.gateway));

    site_use(world.site, world.gateway, SPEAKS_FORM, site_free_port());
    site_replace(world.site, "receipts: {webhook:", receipts);
    assert_int_equal(site_start(world.site, "2026-03-02T08:20:00Z"), 0);
    world.ada = site_client(world.site, "+442079460001", "08:40");
    assert_true(site_clock(world.site, "2026-03-02T08:21:00Z"));
    world.ben = site_client(world.site, "+442079460002", "08:30");
    assert_true(site_clock(world.site, "2026-03-02T08:45:30Z"));
    return world;
}

static void world_close(World *world)
{
    g_free(world->ada);
    g_free(world->ben);
    site_free(world->site);
    stand_in_free(world->gateway);
}

static void receipt(World *world, const char *about, const char *now)
{
    stand_in_put_receipt(world->gateway, json_pack("{s:s, s:s}", "about", about, "now", now));
}

static void fate_is(World *world, const char *client, const char *kind, const char *fate,
                    const char *receipt)
{
    json_t *messages = site_ask(world->site, "messages --client %s", client);
    json_t *message = look_only(messages, "kind", kind);

    look_is(message, "fate", fate);
    if (receipt != NULL) look_is(message, "receipt", receipt);
    json_decref(messages);
}

static void page_after_page_until_all_are_told(void **state)
{
    World world = world_open();

    (void)state;
    fate_is(&world, world.ada, "reminder", "accepted", "awaited");
    receipt(&world, "SM1", "there");
    receipt(&world, "SM4", "on its way");                                    /* says nothing yet */
    stand_in_put_receipt(world.gateway, json_pack("{s:s}", "about", "SM2")); /* no status */
    receipt(&world, "SM99", "there");                                        /* nobody's */
    receipt(&world, "SM4", "there");
    assert_true(site_clock(world.site, "2026-03-02T08:46:30Z"));
    fate_is(&world, world.ada, "welcome", "delivered", NULL);
    fate_is(&world, world.ada, "reminder", "accepted", "awaited");
    assert_true(site_clock(world.site, "2026-03-02T08:49:00Z"));
    fate_is(&world, world.ada, "reminder", "delivered", NULL);
    fate_is(&world, world.ben, "welcome", "accepted", "awaited");
    /* It goes on where it was. */
    receipt(&world, "SM2", "there");
    assert_int_equal(site_stop(world.site), 0);
    assert_int_equal(site_start(world.site, "2026-03-02T08:50:00Z"), 0);
    assert_true(site_clock(world.site, "2026-03-02T08:52:00Z"));
    fate_is(&world, world.ben, "welcome", "delivered", NULL);
    world_close(&world);
}

static void one_that_failed_was_not_asked_and_one_without_is_shown(void **state)
{
    World world = world_open();

    (void)state;
    receipt(&world, "SM3", "gone");
    assert_true(site_clock(world.site, "2026-03-02T08:50:00Z"));
    fate_is(&world, world.ben, "reminder", "failed", NULL);
    json_t *sessions = site_ask(world.site, "sessions %s --from 2026-03-02 --days 1", world.ben);
    look_is(json_array_get(sessions, 0), "state", "unasked");
    json_decref(sessions);
    json_t *alerts = site_ask(world.site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "undeliverable"), 1);
    json_decref(alerts);
    assert_true(site_clock(world.site, "2026-03-02T11:00:00Z"));
    fate_is(&world, world.ada, "reminder", "accepted", "late");
    world_close(&world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(page_after_page_until_all_are_told),
        cmocka_unit_test(one_that_failed_was_not_asked_and_one_without_is_shown),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
