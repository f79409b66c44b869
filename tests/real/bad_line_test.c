/* SPDX-License-Identifier: Apache-2.0 */
/* The line between osierd and its gateways is bad: slow, cut in the midst, down. Each situation over 20 seeds, which draw when
 * and where; the gateway takes keys for every other seed, and none for the rest. What must become of a message is the table in
 * docs/gateways.md. The gateway has one second to answer instead of thirty, so that waiting is short; OSIER_TEST_LONG=1 waits in
 * full, and takes each seed with keys and without. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <string.h>

#include "core/calendar/date.h"
#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"

enum { SEEDS = 20, ROUNDS = SEEDS / 2, MINUTE = 60 * 1000 };

#define DAY "2026-03-02"

typedef struct {
    RoughSite rough;
    bool keyed;
    int rounds;       /* clients, and bad exchanges */
    int64_t first_ms; /* the first session */
    GRand *random;
    char *clients[SEEDS];
    char *wells[SEEDS]; /* asked five minutes later, by a line that is whole again */
} World;

static const Speech SPEECHES[] = {SPEAKS_JSON, SPEAKS_FORM};

static char *client_at(World *world, int number, int64_t at_ms)
{
    g_autofree char *phone = g_strdup_printf("+4420794600%02d", number);
    g_autofree char *instant = instant_format(at_ms);
    g_autofree char *at = g_strndup(instant + strlen("2026-03-02T"), strlen("08:30"));

    return site_client(world->rough.site, phone, at);
}

/* So many clients, each with a session of its own, ten minutes apart, all welcomed. */
static World world_open(Speech speech, const char *answer, int rounds)
{
    World world = {.keyed = speech == SPEAKS_FORM, .rounds = rounds};
    world.rough = rough_site_open(speech, answer, DAY "T08:02:00Z");

    assert_true(instant_parse(DAY "T08:30:00Z", &world.first_ms));
    for (int i = 0; i < rounds; i++) {
        int64_t at_ms = world.first_ms + i * 10 * MINUTE;
        world.clients[i] = client_at(&world, i, at_ms);
        world.wells[i] = client_at(&world, 50 + i, at_ms + 5 * MINUTE);
    }
    rough_site_to(&world.rough, world.first_ms - 5 * MINUTE);
    return world;
}

static void world_close(World *world)
{
    for (int i = 0; i < world->rounds; i++) {
        g_free(world->clients[i]);
        g_free(world->wells[i]);
    }
    rough_site_close(&world->rough);
}

static json_t *get(World *world, const char *path)
{
    long status;
    json_t *answer = site_call(world->rough.site, "GET", path, NULL, &status);

    assert_int_equal(status, 200);
    return answer;
}

static void nobody_was_alarmed(World *world)
{
    json_t *alerts = get(world, "/alerts");

    assert_int_equal(json_array_size(alerts), 0);
    json_decref(alerts);
}

/* What became of a client's reminder, and how often the gateway saw it whole. */
typedef struct {
    char *fate;
    char *reason;
    int attempts; /* while it waits */
    int seen;
} Became;

static Became became(World *world, const char *client)
{
    g_autofree char *path = g_strdup_printf("/messages?client=%s", client);
    json_t *messages = get(world, path);
    json_t *reminder = look_only(messages, "kind", "reminder");
    const char *reason = json_string_value(json_object_get(reminder, "reason"));
    Became found = {.fate = look_copy(reminder, "fate"),
                    .reason = g_strdup(reason != NULL ? reason : ""),
                    .attempts = (int)json_integer_value(json_object_get(reminder, "attempts"))};
    g_autofree char *id = look_copy(reminder, "message");

    found.seen = rough_site_seen(&world->rough, id);
    json_decref(messages);
    return found;
}

static void became_clear(Became *found)
{
    g_free(found->fate);
    g_free(found->reason);
}

static void expect(World *world, const char *client, const char *fate, int least, int most)
{
    Became found = became(world, client);

    if (strcmp(found.fate, fate) != 0 || found.seen < least || found.seen > most)
        fail_msg("wanted %s, seen %d to %d times; got %s (%s), seen %d times", fate, least, most,
                 found.fate, found.reason, found.seen);
    became_clear(&found);
}

/* One bad exchange for each seed, then one good one, so that the gateway is never taken to be sick. */
static void each_seed(void (*harm)(World *world), void (*judge)(World *world, const char *client))
{
    bool each = g_getenv("OSIER_TEST_LONG") != NULL;

    for (int s = 0; s < 2; s++) {
        World world = world_open(SPEECHES[s], "1s", each ? SEEDS : ROUNDS);
        for (int i = 0; i < world.rounds; i++) {
            int64_t at_ms = world.first_ms + i * 10 * MINUTE;
            guint32 seed = (guint32)(each ? i : 2 * i + s);
            print_message("%s, seed %u\n", world.keyed ? "keyed" : "keyless", seed);
            world.random = g_rand_new_with_seed(seed);
            rough_site_to(&world.rough, at_ms - 1000);
            harm(&world);
            rough_site_to(&world.rough, at_ms + 5000);
            rough_line_slow(world.rough.texts, 0, 0);
            rough_line_cut(world.rough.texts, CUT_NONE, 0, false, 0);
            rough_site_to(&world.rough, at_ms + 6 * MINUTE);
            judge(&world, world.clients[i]);
            expect(&world, world.wells[i], "accepted", 1, 1);
            g_rand_free(world.random);
        }
        nobody_was_alarmed(&world);
        world_close(&world);
    }
}

/* --- slow --- */

/* 2 s of the usual 30, to scale. */
static void come_late(World *world)
{
    rough_line_slow(world->rough.texts, g_rand_int_range(world->random, 0, 70),
                    g_rand_int_range(world->random, 10, 70));
}

static void went_once(World *world, const char *client)
{
    expect(world, client, "accepted", 1, 1);
}

static void a_slow_answer_in_time(void **state)
{
    (void)state;
    each_seed(come_late, went_once);
}

/* 30 s of the usual 30: the request, or its answer, comes after osier has stopped to wait. */
static void come_too_late(World *world)
{
    bool request = g_rand_boolean(world->random);

    rough_line_slow(world->rough.texts, request ? -1 : 0,
                    g_rand_boolean(world->random) ? -1 : 1500);
}

static void as_the_table_says(World *world, const char *client)
{
    if (world->keyed)
        expect(world, client, "accepted", 1, 2);
    else
        expect(world, client, "unsure", 0, 1);
}

static void an_answer_that_comes_too_late(void **state)
{
    (void)state;
    each_seed(come_too_late, as_the_table_says);
}

static void real_seconds(Speech speech, int slow_ms, const char *fate, int most)
{
    World world = world_open(speech, "30s", 1);

    rough_site_to(&world.rough, world.first_ms - 1000);
    rough_line_slow(world.rough.texts, 0, slow_ms);
    rough_site_to(&world.rough, world.first_ms + 5000);
    rough_line_slow(world.rough.texts, 0, 0);
    rough_site_to(&world.rough, world.first_ms + 6 * MINUTE);
    expect(&world, world.clients[0], fate, 1, most);
    world_close(&world);
}

static void two_seconds_and_thirty_in_full(void **state)
{
    (void)state;
    real_seconds(SPEAKS_JSON, 2000, "accepted", 1);
    if (g_getenv("OSIER_TEST_LONG") == NULL) {
        print_message("thirty seconds are left out; make check-all waits for them\n");
        return;
    }
    real_seconds(SPEAKS_JSON, 30500, "unsure", 1);
    real_seconds(SPEAKS_FORM, 30500, "accepted", 2);
}

/* --- cut --- */

static void cut_before_the_first_byte(World *world)
{
    rough_line_cut(world->rough.texts, CUT_CONNECTION, 0, true, 1);
}

/* curl sees a connection that ends before, or just after, the first byte: both are true. */
static void cut_connection(World *world, const char *client)
{
    Became found = became(world, client);
    bool again = strcmp(found.fate, "accepted") == 0 && found.seen == 1;
    bool left = !world->keyed && strcmp(found.fate, "unsure") == 0 && found.seen == 0;

    if (!again && !left) fail_msg("%s (%s), seen %d times", found.fate, found.reason, found.seen);
    became_clear(&found);
}

static void reset_as_soon_as_it_stands(void **state)
{
    (void)state;
    each_seed(cut_before_the_first_byte, cut_connection);
}

static void cut_request(World *world)
{
    rough_line_cut(world->rough.texts, CUT_REQUEST, g_rand_int_range(world->random, 0, 250),
                   g_rand_boolean(world->random), 1);
}

/* The gateway never saw the whole of the first. */
static void cut_request_judge(World *world, const char *client)
{
    if (world->keyed)
        expect(world, client, "accepted", 1, 1);
    else
        expect(world, client, "unsure", 0, 0);
}

static void reset_in_the_midst_of_a_request(void **state)
{
    (void)state;
    each_seed(cut_request, cut_request_judge);
}

static void cut_answer(World *world)
{
    rough_line_cut(world->rough.texts, CUT_ANSWER, g_rand_int_range(world->random, 0, 80),
                   g_rand_boolean(world->random), 1);
}

static void cut_answer_judge(World *world, const char *client)
{
    if (world->keyed)
        expect(world, client, "accepted", 2, 2);
    else
        expect(world, client, "unsure", 1, 1);
}

static void reset_in_the_midst_of_an_answer(void **state)
{
    (void)state;
    each_seed(cut_answer, cut_answer_judge);
}

/* --- down --- */

static int told(World *world, const char *event)
{
    g_autofree char *said = site_said(world->rough.site);
    int n = 0;

    for (const char *at = said; (at = strstr(at, event)) != NULL; at += strlen(event))
        n++;
    return n;
}

static bool is_down(World *world)
{
    json_t *status = get(world, "/status");
    bool down = json_is_true(json_object_get(json_object_get(status, "line"), "down"));

    json_decref(status);
    return down;
}

static void set_down(World *world, bool down)
{
    rough_line_down(world->rough.texts, down);
    rough_line_down(world->rough.mail, down);
}

/* Down from before a session until some minutes later: said once, no try is spent, and then it goes out once. */
static void the_line_goes_down_for_minutes(void **state)
{
    World world = world_open(SPEAKS_JSON, "1s", SEEDS);

    (void)state;
    for (int i = 0; i < SEEDS; i++) {
        int64_t at_ms = world.first_ms + i * 10 * MINUTE;
        int before = told(&world, "event=line.down");
        world.random = g_rand_new_with_seed((guint32)i + 1);
        print_message("seed %d\n", i + 1);
        rough_site_to(&world.rough, at_ms - g_rand_int_range(world.random, 1000, 20000));
        set_down(&world, true);
        rough_site_to(&world.rough, at_ms + g_rand_int_range(world.random, MINUTE, 4 * MINUTE));
        assert_true(is_down(&world));
        assert_int_equal(told(&world, "event=line.down"), before + 1);
        Became found = became(&world, world.clients[i]);
        assert_string_equal(found.fate, "waiting");
        assert_in_range(found.attempts, 0, 1);
        became_clear(&found);
        set_down(&world, false);
        rough_site_to(&world.rough, at_ms + 9 * MINUTE);
        assert_false(is_down(&world));
        assert_int_equal(told(&world, "event=line.up"), before + 1);
        expect(&world, world.clients[i], "accepted", 1, 1);
        expect(&world, world.wells[i], "accepted", 1, 1);
        g_rand_free(world.random);
    }
    nobody_was_alarmed(&world);
    world_close(&world);
}

/* One gateway is all there is: when its host is back, whoever waits for help does not wait for half a minute more. */
static void the_only_host_goes_away_and_comes_back(void **state)
{
    World world = {.rough = rough_site_open_alone(DAY "T08:02:00Z")};
    Site *site = world.rough.site;
    g_autofree char *ada = site_client(site, "+442079460001", "08:30");
    int64_t at_ms;

    (void)state;
    assert_true(instant_parse(DAY "T08:29:00Z", &at_ms));
    rough_site_to(&world.rough, at_ms);
    rough_line_down(world.rough.texts, true);
    rough_site_to(&world.rough, at_ms += 4 * MINUTE);
    assert_true(is_down(&world));
    json_decref(site_ask(
        site, "alert open %s --kind fall --words 'her daughter rang' --by 'R. Okafor'", ada));
    rough_site_to(&world.rough, at_ms += MINUTE);
    json_t *messages = site_ask(site, "messages");
    look_is(look_only(messages, "kind", "alert"), "fate", "waiting");
    json_decref(messages);
    rough_line_down(world.rough.texts, false);
    rough_site_to(&world.rough, at_ms + 6000);
    messages = site_ask(site, "messages");
    look_is(look_only(messages, "kind", "alert"), "fate", "accepted");
    json_decref(messages);
    assert_false(is_down(&world));
    rough_site_close(&world.rough);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_slow_answer_in_time),
        cmocka_unit_test(an_answer_that_comes_too_late),
        cmocka_unit_test(two_seconds_and_thirty_in_full),
        cmocka_unit_test(reset_as_soon_as_it_stands),
        cmocka_unit_test(reset_in_the_midst_of_a_request),
        cmocka_unit_test(reset_in_the_midst_of_an_answer),
        cmocka_unit_test(the_line_goes_down_for_minutes),
        cmocka_unit_test(the_only_host_goes_away_and_comes_back),
    };

    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
