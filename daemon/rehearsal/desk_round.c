/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/desk_round.h"

#include <string.h>

static const char DESK[] = "P. Lowther, desk";
enum { AWAY_DAYS = 5 };

static const char *text_of(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

static json_t *with_truth(Truth truth)
{
    static const char *const DONE[] = {"no", "partly", "yes"};
    json_t *body = json_pack("{s:s}", "by", DESK);

    if (truth.done >= 0) json_object_set_new(body, "done", json_string(DONE[truth.done]));
    if (truth.stretch >= 0) json_object_set_new(body, "intensity", json_integer(truth.stretch));
    if (truth.pain >= 0) json_object_set_new(body, "pain", json_integer(truth.pain));
    return body;
}

static void post(World *world, char *path, json_t *body)
{
    json_decref(link_ask(world->link, "POST", path, body, NULL));
    g_free(path);
}

/* --- landlines ------------------------------------------------------------------------------ */

static void ring_up(World *world, Resident *who, const char *session)
{
    Truth truth = person_told(&who->someone, world->random, world->now_ms);

    if (truth.done < 0) return; /* let it ring, and nobody came */
    json_t *body = with_truth(truth);
    json_object_set_new(body, "session", json_string(session));
    post(world, g_strdup_printf("/clients/%s/reports", who->id), body);
}

static void ring_landlines(World *world)
{
    json_t *calls = link_ask(world->link, "GET", "/calls", NULL, NULL);
    size_t index;
    json_t *call;

    json_array_foreach(calls, index, call)
    {
        const char *client = text_of(call, "client");
        Resident *who = client != NULL ? world_resident(world, client) : NULL;
        if (who != NULL && g_strcmp0(text_of(call, "why"), "session") == 0)
            ring_up(world, who, text_of(call, "for"));
    }
    json_decref(calls);
}

/* --- unread replies ------------------------------------------------------------------------- */

/* Who wrote it and what it meant: the desk knows its people by their words. */
static const Letter *letter_of(const World *world, const json_t *reply)
{
    for (guint i = world->letters->len; i-- > 0;) {
        const Letter *letter = world->letters->pdata[i];
        if (g_strcmp0(letter->text, text_of(reply, "text")) == 0 &&
            g_strcmp0(letter->from, text_of(reply, "from")) == 0)
            return letter;
    }
    return NULL;
}

/* The first of the client's sessions that day for which no report has come (g_free), or NULL. */
static char *session_of(World *world, const Resident *who, Day day)
{
    g_autofree char *date = day_format(day);
    g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=%s&days=1", who->id, date);
    json_t *sessions = link_ask(world->link, "GET", path, NULL, NULL);
    char *session = NULL;
    size_t index;
    json_t *item;

    json_array_foreach(sessions, index, item)
    {
        const char *state = text_of(item, "state");
        bool open = g_strcmp0(state, "asked") == 0 || g_strcmp0(state, "silent") == 0;
        if (open && session == NULL) session = g_strdup(text_of(item, "session"));
    }
    json_decref(sessions);
    return session;
}

static void write_down(World *world, const Letter *letter)
{
    g_autofree char *session = session_of(world, letter->who, letter->day);

    if (session == NULL) return;
    json_t *body = with_truth(letter->truth);
    json_object_set_new(body, "session", json_string(session));
    post(world, g_strdup_printf("/clients/%s/reports", letter->who->id), body);
}

static void pause_for_a_while(World *world, const Letter *letter)
{
    g_autofree char *until = day_format(zone_local(world->zone, world->now_ms).day + AWAY_DAYS);

    post(world, g_strdup_printf("/clients/%s/pause", letter->who->id),
         json_pack("{s:s, s:s, s:s}", "until", until, "why", "away", "by", DESK));
}

static void settle(World *world, const json_t *reply)
{
    const Letter *letter = letter_of(world, reply);
    bool known = json_is_string(json_object_get(reply, "session"));
    json_t *body = json_pack("{s:s}", "by", DESK);

    if (letter != NULL && letter->who != NULL) {
        if (letter->meaning == MEANS_AWAY) pause_for_a_while(world, letter);
        if (!known && letter->truth.done >= 0) write_down(world, letter);
    }
    post(world, g_strdup_printf("/unread/%s/settle", text_of(reply, "reply")), body);
}

static void each_of(World *world, const char *path, void (*act)(World *, const json_t *))
{
    json_t *list = link_ask(world->link, "GET", path, NULL, NULL);
    size_t index;
    json_t *item;

    json_array_foreach(list, index, item)
    {
        act(world, item);
    }
    json_decref(list);
}

static void look_at(World *world, const json_t *reply)
{
    const Letter *letter = letter_of(world, reply);

    if (letter != NULL && letter->who != NULL && letter->meaning == MEANS_AWAY)
        pause_for_a_while(world, letter);
    post(world, g_strdup_printf("/glance/%s/seen", text_of(reply, "reply")),
         json_pack("{s:s}", "by", DESK));
}

/* --- what concerns nobody in particular ----------------------------------------------------- */

static void look_into(World *world, const json_t *alert)
{
    bool gateway = g_strcmp0(text_of(alert, "kind"), "gateway") == 0;

    if (text_of(alert, "client") != NULL) return;
    post(
        world, g_strdup_printf("/alerts/%s/close", text_of(alert, "alert")),
        json_pack("{s:s, s:s, s:s}", "by", DESK, "outcome", "resume", "note",
                  gateway ? "rang the provider; it works again" : "read and put where it belongs"));
}

void desk_round(World *world)
{
    ring_landlines(world);
    each_of(world, "/unread", settle);
    each_of(world, "/glance", look_at);
    each_of(world, "/alerts", look_into);
}
