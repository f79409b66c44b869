/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/world.h"

#include <string.h>

#include "core/calendar/date.h"

typedef struct {
    int64_t at_ms;
    uint64_t order;
    WorldAct *act;
    int person;
    void *data;
} Happening;

static void happening_free(void *data)
{
    g_free(((Happening *)data)->data);
    g_free(data);
}

static int by_time(const void *a, const void *b, void *context)
{
    const Happening *left = a, *right = b;

    (void)context;
    if (left->at_ms != right->at_ms) return left->at_ms < right->at_ms ? -1 : 1;
    return left->order < right->order ? -1 : left->order > right->order;
}

void world_later(World *world, int64_t wait_ms, WorldAct *act, int person, void *data)
{
    Happening *happening = g_new0(Happening, 1);

    *happening = (Happening){.at_ms = sim_now(world->clinic) + wait_ms,
                             .order = ++world->order,
                             .act = act,
                             .person = person,
                             .data = data};
    g_sequence_insert_sorted(world->happenings, happening, by_time, NULL);
}

int64_t world_next(const World *world)
{
    GSequenceIter *first = g_sequence_get_begin_iter(world->happenings);

    return g_sequence_iter_is_end(first) ? INT64_MAX : ((Happening *)g_sequence_get(first))->at_ms;
}

void world_act(World *world)
{
    while (world_next(world) <= sim_now(world->clinic) && !trace_broken(world->trace)) {
        GSequenceIter *first = g_sequence_get_begin_iter(world->happenings);
        Happening happening = *(Happening *)g_sequence_get(first);
        ((Happening *)g_sequence_get(first))->data = NULL;
        g_sequence_remove(first);
        happening.act(world, happening.person, happening.data);
        g_free(happening.data);
    }
}

bool world_chance(World *world, const char *purpose, int percent)
{
    return (int)random_below(world->random, purpose, 100) < percent;
}

int64_t world_wait(World *world, const char *purpose, int64_t least_ms, int64_t most_ms)
{
    int64_t span_s = (most_ms - least_ms) / 1000 + 1;

    return least_ms + (int64_t)random_below(world->random, purpose, (uint64_t)span_s) * 1000;
}

bool world_is_calm(const World *world)
{
    return sim_now(world->clinic) >= world->calm_ms;
}

/* --- texts on their way in --- */

typedef struct {
    World *world;
    char id[16];
    char *json;
    int tries;
} Hook;

static void post(Hook *hook);

static void post_again(World *world, int person, void *data)
{
    (void)world;
    (void)person;
    post(*(Hook **)data);
}

/* A gateway posts again until it hears that the text was kept. */
static void heard(int status, void *context)
{
    Hook *hook = context;
    World *world = hook->world;

    if (status >= 200 && status < 300) {
        oracle_acknowledged(world->oracle, hook->id);
        g_free(hook->json);
        g_free(hook);
        return;
    }
    Hook **kept = g_new(Hook *, 1);
    *kept = hook;
    trace_note(world->trace, "the hook of %s gets %d", hook->id, status);
    hook->tries++;
    world_later(world, MIN(hook->tries, 6) * 5 * MINUTE_MS, post_again, -1, kept);
}

static void post(Hook *hook)
{
    sim_hook(hook->world->clinic, "/in/texts", hook->json, heard, hook);
}

static void put_hook(World *world, const char *id, const char *json)
{
    Hook *hook = g_new0(Hook, 1);

    *hook = (Hook){.world = world, .json = g_strdup(json)};
    g_strlcpy(hook->id, id, sizeof hook->id);
    post(hook);
}

static void put_inbox(World *world, const char *id, const char *json)
{
    char *kept = g_strdup(id);

    standin_put(world->clinic->standin, json);
    g_ptr_array_add(world->ids, kept);
    g_ptr_array_add(world->inbox, kept);
}

static void hand_over(World *world, const char *id, const char *first, const char *from,
                      const char *text, int64_t at_ms, bool by_hook)
{
    g_autofree char *at = at_ms > 0 ? instant_format(at_ms) : NULL;
    json_t *item =
        json_pack("{s:s, s:s, s:s, s:s*}", "id", id, "from", from, "text", text, "at", at);
    g_autofree char *json = json_dumps(item, JSON_COMPACT);

    json_decref(item);
    oracle_said(world->oracle, id, first, from, text);
    if (by_hook)
        put_hook(world, id, json);
    else
        put_inbox(world, id, json);
}

/* Twice by one way, by both, or under another id of the gateway's: one text all the same. */
void world_say(World *world, const char *from, const char *text, Way way)
{
    /* No two texts of one phone bear the same second. */
    int64_t at_ms = MAX(sim_now(world->clinic) / 1000 * 1000 - 60000, world->said_ms + 1000);
    g_autofree char *id = g_strdup_printf("in%05d", ++world->said);
    g_autofree char *other = g_strdup_printf("in%05db", world->said);
    bool by_hook = way == WAY_HOOK || (way == WAY_ANY && world_chance(world, "way", 50));

    world->said_ms = at_ms;
    if (sim_now(world->clinic) >= world->hush_ms) return;
    trace_note(world->trace, "'%s' from %s, %s by %s", text, from, id, by_hook ? "hook" : "poll");
    /* Some gateways do not say when: then the id alone tells that two are one. */
    bool timed = !world_chance(world, "without a time", 12);
    if (!timed) at_ms = 0;
    hand_over(world, id, id, from, text, at_ms, by_hook);
    if (way != WAY_ANY) return;
    if (world_chance(world, "twice", 6)) hand_over(world, id, id, from, text, at_ms, by_hook);
    if (world_chance(world, "both ways", 6)) hand_over(world, id, id, from, text, at_ms, !by_hook);
    if (timed && world_chance(world, "other id", 6))
        hand_over(world, other, id, from, text, at_ms, true);
}

/* --- receipts --- */

static void no_matter(int status, void *context)
{
    (void)status;
    (void)context;
}

static void give_receipt(World *world, int person, void *data)
{
    const char *words = world_chance(world, "receipt", 94) ? "delivered" : "failed";
    g_autofree char *json =
        g_strdup_printf("{\"id\":\"%s\",\"status\":\"%s\"}", (const char *)data, words);

    (void)person;
    sim_hook(world->clinic, "/receipts/texts", json, no_matter, NULL);
    if (world_chance(world, "receipt again", 10)) /* the same, or another word, later */
        world_later(world, world_wait(world, "receipt", 1000, 5 * HOUR_MS), give_receipt, -1,
                    g_strdup(data));
}

/* --- joining the gateway --- */

static void on_written(const Written *written, void *context)
{
    World *world = context;
    Sent sent;

    if (!oracle_written(world->oracle, written, &sent)) return;
    if (written->delivered && !written->mail && world_chance(world, "receipts", 30))
        world_later(world, world_wait(world, "receipt", 1000, 20 * MINUTE_MS), give_receipt, -1,
                    g_strdup(written->gateway_id));
    if (written->delivered && !written->mail && sent.to_client)
        world_client_reads(world, &sent, written);
    else if (written->delivered && strcmp(sent.kind, "alert") == 0)
        world_staff_reads(world, &sent, written);
    sent_clear(&sent);
}

static void on_acknowledged(guint index, void *context)
{
    World *world = context;

    for (; world->acknowledged < MIN(index, world->inbox->len); world->acknowledged++)
        oracle_acknowledged(world->oracle, world->inbox->pdata[world->acknowledged]);
}

static void let_go_of_person(void *data)
{
    WorldPerson *person = data;

    g_free(person->name);
    g_free(person->id);
    g_free(person->phone);
    g_free(person->email);
    g_free(person->zone);
    g_free(person);
}

World *world_new(SimClinic *clinic, Oracle *oracle)
{
    World *world = g_new0(World, 1);

    world->clinic = clinic;
    world->oracle = oracle;
    world->random = clinic->random;
    world->trace = clinic->trace;
    world->happenings = g_sequence_new(happening_free);
    world->laptop = laptop_new(clinic);
    world->people = g_ptr_array_new_with_free_func(let_go_of_person);
    world->inbox = g_ptr_array_new();
    world->ids = g_ptr_array_new_with_free_func(g_free);
    world->calm_ms = world->hush_ms = INT64_MAX;
    standin_watch(clinic->standin, on_written, on_acknowledged, world);
    return world;
}

void world_fill(World *world, int people, int64_t calm_ms)
{
    world->calm_ms = calm_ms;
    world_clients_fill(world, people);
    world_staff_fill(world);
}

void world_free(World *world)
{
    /* What still waits to be posted again goes with it. */
    for (GSequenceIter *at = g_sequence_get_begin_iter(world->happenings);
         !g_sequence_iter_is_end(at); at = g_sequence_iter_next(at)) {
        Happening *happening = g_sequence_get(at);
        if (happening->act != post_again) continue;
        Hook *hook = *(Hook **)happening->data;
        g_free(hook->json);
        g_free(hook);
    }
    laptop_free(world->laptop);
    g_sequence_free(world->happenings);
    g_ptr_array_unref(world->people);
    g_ptr_array_unref(world->inbox);
    g_ptr_array_unref(world->ids);
    standin_watch(world->clinic->standin, NULL, NULL, NULL);
    g_free(world);
}
