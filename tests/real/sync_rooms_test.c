/* SPDX-License-Identifier: Apache-2.0 */
/* A box and a laptop by the real clock, each in a room with a network of its own, and a cable between them that is pulled, thin, dead
 * one way, or dead without a word. People work on meanwhile; once it is whole again, both agree. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/replicas.h"
#include "tests/support/rooms.h"

#define PORT 8752
enum { BOX, LAPTOP, TRIES_MOST = 20, KILLS = 4, SEED = 20261127 };

typedef struct {
    Rooms *rooms;
    Site *box, *laptop;
    char *client;
    int changes;
} Reach;

static Site *site_in(const Rooms *rooms, int room, const char *name, const char *listens)
{
    Site *site = site_new();

    site->room = rooms_process(rooms, room);
    replica_settings_at(site, name, listens, REPLICAS_CLINIC);
    assert_int_equal(site_start(site, NULL), 0);
    return site;
}

static Reach *reach_or_skip(void)
{
    char *why;
    Rooms *rooms = rooms_new(&why);

    if (rooms == NULL) {
        print_message("skipped: no networks of their own here: %s\n", why);
        g_free(why);
        skip();
    }
    Reach *reach = g_new0(Reach, 1);
    g_autofree char *listens = g_strdup_printf("%s:%d", ROOM_ADDRESS_0, PORT);
    reach->rooms = rooms;
    reach->box = site_in(rooms, BOX, "box", listens);
    reach->laptop = site_in(rooms, LAPTOP, "laptop", NULL);
    g_autofree char *code = replica_code(reach->box);
    json_decref(site_ask(reach->laptop, "sync pair %s --with %s", code, listens));
    reach->client = replica_client(reach->box, "Ada N.", 1);
    replica_visit(reach->laptop);
    return reach;
}

static void reach_free(Reach *reach)
{
    replicas_end(reach->laptop, reach->box);
    rooms_free(reach->rooms);
    g_free(reach->client);
    g_free(reach);
}

static void change(Reach *reach)
{
    replicas_change(reach->box, reach->laptop, reach->client, ++reach->changes);
}

static bool tries(Site *laptop)
{
    g_autofree char *said = NULL;

    return site_osier(laptop, NULL, &said, "sync now") == 0;
}

/* The cable is whole: after a visit or a few both know all that either did. */
static void agree(Reach *reach)
{
    int failed = 0;

    while (!tries(reach->laptop))
        assert_true(++failed < TRIES_MOST);
    replicas_know(reach->box, reach->laptop, reach->client, reach->changes);
}

static void *visit_apart(void *context)
{
    tries(context);
    return NULL;
}

/* What is sent is lost, and nobody says so; the visit that hangs there goes on when the cable is in again. */
static void a_cable_that_is_pulled_amid_a_visit(void **state)
{
    Reach *reach = reach_or_skip();

    (void)state;
    for (int i = 0; i < 3; i++) {
        change(reach);
        rooms_do(reach->rooms, BOX, "ip link set cable down");
        GThread *visit = g_thread_new("visit", visit_apart, reach->laptop);
        change(reach);
        rooms_do(reach->rooms, BOX, "ip link set cable up");
        g_thread_join(visit);
        agree(reach);
    }
    reach_free(reach);
}

static void no_way_to_the_box(void **state)
{
    Reach *reach = reach_or_skip();

    (void)state;
    rooms_do(reach->rooms, LAPTOP, "ip route add unreachable " ROOM_ADDRESS_0 "/32");
    assert_int_equal(site_stop(reach->laptop), 0); /* what stands would not notice */
    assert_int_equal(site_start(reach->laptop, NULL), 0);
    change(reach);
    site_fails(reach->laptop, 75, "it cannot be reached", "sync now");
    g_autofree char *told = site_told(reach->laptop, "sync status");
    assert_non_null(strstr(told, "it cannot be reached"));
    rooms_do(reach->rooms, LAPTOP, "ip route del unreachable " ROOM_ADDRESS_0 "/32");
    agree(reach);
    reach_free(reach);
}

/* What the laptop says arrives, what the box answers does not. */
static void a_way_there_and_none_back(void **state)
{
    Reach *reach = reach_or_skip();

    (void)state;
    for (int i = 0; i < 3; i++) {
        rooms_do(reach->rooms, BOX, "ip route add blackhole " ROOM_ADDRESS_1 "/32");
        change(reach);
        GThread *visit = g_thread_new("visit", visit_apart, reach->laptop);
        change(reach);
        rooms_do(reach->rooms, BOX, "ip route del blackhole " ROOM_ADDRESS_1 "/32");
        g_thread_join(visit);
        agree(reach);
    }
    reach_free(reach);
}

/* 64 kbit a second, and the box is killed at any moment of a visit. */
static void a_thin_cable_and_a_box_that_is_killed(void **state)
{
    g_autoptr(GRand) random = g_rand_new_with_seed(SEED);
    Reach *reach = reach_or_skip();

    (void)state;
    print_message("seed %d\n", SEED);
    for (int room = BOX; room <= LAPTOP; room++)
        rooms_do(reach->rooms, room,
                 "tc qdisc add dev cable root tbf rate 64kbit burst 3kb latency 500ms");
    for (int i = 0; i < KILLS; i++) {
        change(reach);
        GThread *visit = g_thread_new("visit", visit_apart, reach->laptop);
        g_usleep((gulong)g_rand_int_range(random, 0, 300 * 1000));
        site_kill(reach->box);
        g_thread_join(visit);
        assert_int_equal(site_start(reach->box, NULL), 0);
        agree(reach);
    }
    reach_free(reach);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cable_that_is_pulled_amid_a_visit),
        cmocka_unit_test(no_way_to_the_box),
        cmocka_unit_test(a_way_there_and_none_back),
        cmocka_unit_test(a_thin_cable_and_a_box_that_is_killed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
