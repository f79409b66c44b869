/* SPDX-License-Identifier: Apache-2.0 */
/* The line is cut after every byte of a request and of its answer, once for each place, by a reset or by an end in turn. No
 * message may be lost, and none seen twice except where the table in docs/gateways.md says so: what is for the client is
 * repeated where the gateway takes keys, alone; a call to a clinician always. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <string.h>

#include "core/calendar/date.h"
#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"

enum { LEAST_BYTES = 40, PLACES_MAX = 1000 };

#define OKAFOR "+442079460190"

typedef struct {
    RoughSite rough;
    bool keyed;
    int64_t now_ms;
    int people;
    int unsure;
    int twice;
} World;

static void pass(World *world, int seconds)
{
    world->now_ms += seconds * 1000;
    rough_site_to(&world->rough, world->now_ms);
}

static json_t *call(World *world, const char *path, json_t *body)
{
    long status;
    json_t *answer =
        site_call(world->rough.site, body != NULL ? "POST" : "GET", path, body, &status);

    if (status != 200) fail_msg("%s: %ld", path, status);
    return answer;
}

/* Somebody new, who is welcomed, and whose session is in the evening: the id. */
static char *add_client(World *world)
{
    g_autofree char *phone = g_strdup_printf("+44207946%04d", 1000 + world->people++);

    return site_client(world->rough.site, phone, "20:30");
}

/* The only message of a client of that kind, to that number (NULL: any). */
static json_t *message_of(World *world, const char *client, const char *kind, const char *to)
{
    g_autofree char *path = g_strdup_printf("/messages?client=%s", client);
    json_t *messages = call(world, path, NULL);
    json_t *message, *found = NULL;
    size_t i;

    json_array_foreach(messages, i, message)
    {
        bool same =
            g_strcmp0(json_string_value(json_object_get(message, "kind")), kind) == 0 &&
            (to == NULL || g_strcmp0(json_string_value(json_object_get(message, "to")), to) == 0);
        if (!same) continue;
        assert_null(found);
        found = json_incref(message);
    }
    if (found == NULL) fail_msg("no %s of %s", kind, client);
    json_decref(messages);
    return found;
}

/* How long the answer to the next send will be: the stand-in's head and body, whose number grows. */
static int answer_length(World *world)
{
    g_autofree char *body =
        g_strdup_printf(world->keyed ? "{\"sid\":\"SM%d\"}" : "{\"result\":[{\"uid\":%d}]}",
                        stand_in_count(world->rough.gateway) + 1);
    g_autofree char *answer =
        g_strdup_printf("HTTP/1.1 201 Whatever\r\nContent-Type: application/json\r\n"
                        "Content-Length: %zu\r\n\r\n%s",
                        strlen(body), body);

    return (int)strlen(answer);
}

/* What the gateway and osier had of the exchange that was to be cut. */
typedef struct {
    int sends;
    int cuts;
    bool behind; /* the place lies behind the answer's last byte */
    bool cut;    /* false: it was over before that place */
    bool whole;
    bool told;
} Exchanged;

static Exchanged arm(World *world, RoughCut cut, int after)
{
    bool behind = cut == CUT_ANSWER && after >= answer_length(world);

    /* A reset may overtake what has come and is not yet read. */
    rough_line_cut(world->rough.texts, cut, after, after % 2 == 0 && !behind, 1);
    return (Exchanged){.sends = stand_in_count(world->rough.gateway),
                       .behind = behind,
                       .cuts = rough_line_cuts(world->rough.texts)};
}

static void disarm(World *world, Exchanged *exchanged)
{
    pass(world, 1);
    rough_line_cut(world->rough.texts, CUT_NONE, 0, false, 0);
    exchanged->cut = rough_line_cuts(world->rough.texts) > exchanged->cuts;
    exchanged->whole = stand_in_count(world->rough.gateway) > exchanged->sends;
    exchanged->told = !exchanged->cut || exchanged->behind;
}

/* again: a second one is better than none. */
static void judge(World *world, json_t *message, bool again, const Exchanged *exchanged,
                  RoughCut cut, int after)
{
    g_autofree char *id = look_copy(message, "message");
    const char *fate = json_string_value(json_object_get(message, "fate"));
    int seen = rough_site_seen(&world->rough, id);
    bool repeated = !exchanged->told && (again || world->keyed);
    int wanted = exchanged->whole + repeated;
    /* libcurl repeats by itself where the gateway takes keys: only behind the last byte of a request is that the second. */
    bool once_more = world->keyed && cut == CUT_REQUEST && seen == 1;
    const char *wanted_fate = exchanged->told || repeated ? "accepted" : "unsure";

    if (strcmp(fate, wanted_fate) != 0 || (seen != wanted && !once_more))
        fail_msg("%s, cut %s byte %d: wanted %s, seen %d times; got %s, seen %d times",
                 json_string_value(json_object_get(message, "kind")),
                 exchanged->whole ? "in the answer after" : "in the request after", after,
                 wanted_fate, wanted, fate, seen);
    world->unsure += strcmp(fate, "unsure") == 0;
    world->twice += seen == 2;
    json_decref(message);
}

static bool cut_welcome(World *world, RoughCut cut, int after, char **client)
{
    Exchanged exchanged = arm(world, cut, after);

    *client = add_client(world); /* it is welcomed at once */
    disarm(world, &exchanged);
    pass(world, 30);
    judge(world, message_of(world, *client, "welcome", NULL), false, &exchanged, cut, after);
    return exchanged.cut;
}

static bool cut_alert(World *world, RoughCut cut, int after, const char *client)
{
    g_autofree char *path = g_strdup_printf("/clients/%s/alerts", client);
    Exchanged exchanged = arm(world, cut, after);
    json_t *opened = call(
        world, path,
        json_pack("{s:s, s:s, s:s}", "kind", "heart", "words", "tight chest", "by", "R. Okafor"));
    g_autofree char *alert = look_copy(opened, "alert");
    g_autofree char *close = g_strdup_printf("/alerts/%s/close", alert);

    json_decref(opened);
    disarm(world, &exchanged);
    pass(world, 35);
    judge(world, message_of(world, client, "alert", OKAFOR), true, &exchanged, cut, after);
    json_decref(call(world, close, json_pack("{s:s, s:s}", "by", "R. Okafor", "outcome", "refer")));
    pass(world, 1);
    return exchanged.cut;
}

static void every_byte(World *world, RoughCut cut)
{
    bool more = true;
    int after = 0;

    for (; more; after++) {
        g_autofree char *client = NULL;
        more = cut_welcome(world, cut, after, &client);
        more |= cut_alert(world, cut, after, client);
        assert_true(after < PLACES_MAX);
    }
    print_message("%s: %d places in %s\n", world->keyed ? "keyed" : "keyless", after - 1,
                  cut == CUT_REQUEST ? "a request" : "an answer");
    assert_true(after > LEAST_BYTES);
}

static void run(Speech speech)
{
    World world = {.keyed = speech == SPEAKS_FORM};

    assert_true(instant_parse("2026-03-02T08:05:00Z", &world.now_ms));
    world.rough = rough_site_open(speech, "5s", "2026-03-02T08:05:00Z");
    every_byte(&world, CUT_REQUEST);
    /* Behind its last byte alone: the welcome where it has a key, and the call. */
    assert_int_equal(world.twice, world.keyed ? 2 : 1);
    every_byte(&world, CUT_ANSWER);
    print_message("%d messages unsure, %d seen twice\n", world.unsure, world.twice);
    rough_site_close(&world.rough);
}

static void a_gateway_that_takes_keys(void **state)
{
    (void)state;
    run(SPEAKS_FORM);
}

static void a_gateway_that_takes_none(void **state)
{
    (void)state;
    run(SPEAKS_JSON);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_gateway_that_takes_keys),
        cmocka_unit_test(a_gateway_that_takes_none),
    };

    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
