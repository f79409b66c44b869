/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's people: they add clients, set plans, take alerts and close them, settle what osier
 * could not read, and change their minds. */
#include <string.h>

#include "core/calendar/date.h"
#include "tests/sim/local.h"
#include "tests/sim/world.h"

static const char *const DUTY[][2] = {{"R. Okafor", SIM_OKAFOR}, {"J. Lindqvist", SIM_LINDQVIST}};

static WorldPerson *person_at(const World *world, int index)
{
    return world->people->pdata[index];
}

/* A call of the API whose answer does not matter; the status. */
static int call(World *world, const char *path, json_t *body)
{
    int status;
    json_t *answer = sim_call(world->clinic, "POST", path, body, &status);

    json_decref(answer);
    return status;
}

static int call_client(World *world, int index, const char *what, json_t *body)
{
    g_autofree char *path = g_strdup_printf("/clients/%s%s", person_at(world, index)->id, what);

    return call(world, path, body);
}

/* --- clients and plans --- */

bool world_plan(World *world, int index, const char *times)
{
    WorldPerson *person = person_at(world, index);
    g_autofree char *start = NULL;
    GTimeZone *zone = g_time_zone_new_identifier(person->zone);

    local_minute(zone, sim_now(world->clinic), &start);
    g_time_zone_unref(zone);
    int status = call_client(world, index, "/plan",
                             json_pack("{s:s, s:s, s:s, s:s}", "programme", "calf-and-hamstring",
                                       "at", times, "stage", "calf-with-strap", "start", start));
    if (status != 200) return false;
    trace_note(world->trace, "client %s is to practise at %s, %s", person->id, times, person->zone);
    g_strlcpy(person->times, times, sizeof person->times);
    person->planned = true;
    return true;
}

static const char *draw_times(World *world)
{
    static const char *const TIMES[] = {"08:30",
                                        "09:00,18:30",
                                        "12:00",
                                        "08:00,20:45",
                                        "17:15",
                                        "10:00,14:00,19:30",
                                        "08:00,13:15,18:30,20:30"};

    return TIMES[random_below(world->random, "times", G_N_ELEMENTS(TIMES))];
}

static void try_again(World *world, int index, void *data)
{
    (void)data;
    world_add(world, index);
}

/* Each part that a full disk or a dead daemon refuses is tried again in an hour. */
static bool need(World *world, int index, int status)
{
    if (status == 200) return true;
    world_later(world, HOUR_MS, try_again, index, NULL);
    return false;
}

static bool add_client(World *world, int index)
{
    WorldPerson *person = person_at(world, index);
    int status;
    json_t *body =
        json_pack("{s:s, s:s, s:s, s:s, s:s, s:i}", "name", person->name, "zone", person->zone,
                  "channel", person->channel, "phone", person->phone, "email", person->email,
                  "usual_pain", (int)random_below(world->random, "usual", 4));
    json_t *answer = sim_call(world->clinic, "POST", "/clients", body, &status);

    if (status == 200) person->id = g_strdup(json_string_value(json_object_get(answer, "client")));
    json_decref(answer);
    return status == 200;
}

/* No screen, no plan; no consent, no plan: both are refused first. */
static void no_plan_without(World *world, int index, const char *what)
{
    if (world_plan(world, index, "09:00"))
        trace_break(world->trace, "no plan without screen and consent", "client %s has no %s",
                    person_at(world, index)->id, what);
}

void world_add(World *world, int index)
{
    WorldPerson *person = person_at(world, index);

    if (person->id == NULL) {
        if (!add_client(world, index)) {
            world_later(world, HOUR_MS, try_again, index, NULL);
            return;
        }
        no_plan_without(world, index, "screen");
    }
    if (!need(world, index,
              call_client(
                  world, index, "/screen",
                  json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1))))
        return;
    g_autofree char *consent =
        g_strdup_printf("%s: signed form, R. Okafor, 2020-01-31", person->channel);
    if (!need(world, index, call_client(world, index, "", json_pack("{s:s}", "consent", consent))))
        return;
    if (!world_plan(world, index, draw_times(world)))
        world_later(world, HOUR_MS, try_again, index, NULL);
}

/* --- alerts --- */

typedef struct {
    char text[64];
    const char *number;
} TakeText;

static void send_text(World *world, int index, void *data)
{
    const TakeText *take = data;

    (void)index;
    world_say(world, take->number, take->text, WAY_ANY);
}

/* Most take it with the code, some mistype it, some have it forwarded to another phone. */
void world_staff_reads(World *world, const Sent *sent, const Written *written)
{
    const char *code = strstr(written->text, "TAKE ");
    TakeText *take;
    int64_t wait = world_wait(world, "take", 2 * MINUTE_MS, 90 * MINUTE_MS);

    (void)sent;
    if (written->mail || code == NULL || !world_chance(world, "takes", 60)) return;
    take = g_new0(TakeText, 1);
    take->number = strcmp(written->to, SIM_OKAFOR) == 0 ? SIM_OKAFOR : SIM_LINDQVIST;
    if (world_chance(world, "mistypes", 6)) code = "TAKE 0000";
    if (world_chance(world, "forwards", 4))
        take->number = strcmp(take->number, SIM_OKAFOR) == 0 ? SIM_LINDQVIST : SIM_OKAFOR;
    if (world_chance(world, "stranger takes", 3)) take->number = "+447700900999";
    g_snprintf(take->text, sizeof take->text, "%.9s", code);
    world_later(world, wait, send_text, -1, take);
}

static void close_alert(World *world, const json_t *alert)
{
    static const char *const OUTCOMES[] = {"resume",    "resume", "resume", "resume",
                                           "step-back", "refer",  "end"};
    const char *outcome =
        OUTCOMES[random_below(world->random, "outcome", 6 + world_chance(world, "end", 20))];
    const char *client = json_string_value(json_object_get(alert, "client"));
    g_autofree char *path =
        g_strdup_printf("/alerts/%s/close", json_string_value(json_object_get(alert, "alert")));

    if (client == NULL) outcome = "resume";
    int status = call(world, path, json_pack("{s:s, s:s}", "by", DUTY[0][0], "outcome", outcome));
    if (status != 200 || strcmp(outcome, "end") != 0) return;
    for (guint i = 0; i < world->people->len; i++)
        if (g_strcmp0(person_at(world, (int)i)->id, client) == 0)
            person_at(world, (int)i)->ended = true;
}

/* Twice a day somebody goes through the alerts: takes some, closes most. */
static void go_through_alerts(World *world, int index, void *data)
{
    int status;
    json_t *alerts = sim_call(world->clinic, "GET", "/alerts", NULL, &status);
    size_t i;
    json_t *alert;

    (void)data;
    json_array_foreach(alerts, i, alert)
    {
        g_autofree char *path =
            g_strdup_printf("/alerts/%s/take", json_string_value(json_object_get(alert, "alert")));
        if (world_chance(world, "takes by command", 30))
            call(world, path, json_pack("{s:s}", "by", DUTY[i % 2][0]));
        if (world_is_calm(world) || world_chance(world, "closes", 60)) close_alert(world, alert);
    }
    json_decref(alerts);
    world_later(world, world_wait(world, "round", 5 * HOUR_MS, 16 * HOUR_MS), go_through_alerts,
                index, NULL);
}

static void go_through_unread(World *world, int index, void *data)
{
    int status;
    json_t *replies = sim_call(world->clinic, "GET", "/unread", NULL, &status);
    size_t i;
    json_t *reply;

    (void)data;
    json_array_foreach(replies, i, reply)
    {
        g_autofree char *path = g_strdup_printf("/unread/%s/settle",
                                                json_string_value(json_object_get(reply, "reply")));
        if (world_chance(world, "settles", 75))
            call(world, path, json_pack("{s:s}", "by", DUTY[0][0]));
    }
    json_decref(replies);
    world_later(world, world_wait(world, "desk", 8 * HOUR_MS, 30 * HOUR_MS), go_through_unread,
                index, NULL);
}

/* --- changes of mind --- */

static void pause(World *world, int index)
{
    static const char *const WHYS[] = {"away", "illness", "hospital", "other"};
    WorldPerson *person = person_at(world, index);
    GTimeZone *zone = g_time_zone_new_identifier(person->zone);
    g_autofree char *today = NULL;

    local_minute(zone, sim_now(world->clinic), &today);
    g_time_zone_unref(zone);
    g_autofree char *until =
        local_date_add(today, (int)random_below(world->random, "pause days", 8));
    call_client(world, index, "/pause",
                json_pack("{s:s, s:s}", "until", until, "why",
                          WHYS[random_below(world->random, "why", 4)]));
}

static void end(World *world, int index)
{
    WorldPerson *person = person_at(world, index);

    if (call_client(world, index, "/end", json_pack("{s:s}", "why", "finished")) == 200)
        person->ended = true;
}

static void write_down_a_fall(World *world, int index)
{
    call_client(world, index, "/alerts",
                json_pack("{s:s, s:s, s:s}", "kind", "fall", "words", "told us on the telephone",
                          "by", DUTY[1][0]));
}

/* The desk rings who has no mobile phone, and writes down what was said. */
static void write_down_a_report(World *world, int index)
{
    WorldPerson *person = person_at(world, index);
    GTimeZone *zone = g_time_zone_new_identifier(person->zone);
    g_autofree char *today = NULL;

    local_minute(zone, sim_now(world->clinic), &today);
    g_time_zone_unref(zone);
    call_client(world, index, "/reports",
                json_pack("{s:s, s:s, s:i, s:i, s:s}", "date", today, "done", "yes", "intensity", 4,
                          "pain", 0, "by", DUTY[0][0]));
}

static void move_zone(World *world, int index)
{
    WorldPerson *person = person_at(world, index);
    const char *zone =
        strcmp(person->zone, "Europe/London") == 0 ? "Europe/Athens" : "Europe/London";

    if (call_client(world, index, "", json_pack("{s:s}", "zone", zone)) != 200) return;
    g_free(person->zone);
    person->zone = g_strdup(zone);
    world_plan(world, index, person->times);
}

static void change_something(World *world, int index, void *data)
{
    int which =
        (int)random_below(world->random, "change", (uint64_t)MAX(1, (int)world->people->len));
    WorldPerson *person = person_at(world, which);

    (void)data;
    if (world_is_calm(world)) return;
    if (person->planned && !person->ended) {
        int what = (int)random_below(world->random, "what", 100);
        if (what < 22)
            pause(world, which);
        else if (what < 44)
            call_client(world, which, "/resume", json_object());
        else if (what < 64)
            world_plan(world, which, draw_times(world));
        else if (what < 68)
            end(world, which);
        else if (what < 76)
            write_down_a_fall(world, which);
        else if (what < 82)
            move_zone(world, which);
        else
            write_down_a_report(world, which);
    }
    world_later(world, world_wait(world, "mind", HOUR_MS, 20 * HOUR_MS), change_something, index,
                NULL);
}

/* --- a laptop in an outreach room --- */

static void laptop_is_back(World *world, int index, void *data)
{
    (void)index;
    (void)data;
    laptop_meet(world->laptop);
    if (world->clinic->daemon == NULL) world_later(world, HOUR_MS, laptop_is_back, -1, NULL);
}

/* Somebody is seen away from the clinic and is to pause, or wants no more messages; the clinic hears of it days later, whatever
 * was stopped and lifted there meanwhile. */
static void write_on_laptop(World *world, int index, void *data)
{
    int which =
        (int)random_below(world->random, "seen away", (uint64_t)MAX(1, (int)world->people->len));
    const WorldPerson *person = person_at(world, which);
    json_int_t now = sim_now(world->clinic);

    (void)data;
    if (world_is_calm(world)) return;
    if (person->planned && !person->ended && world_chance(world, "says stop there", 15))
        laptop_note(world->laptop, "client.stop", person->id,
                    json_pack("{s:I, s:s, s:s}", "at", now, "why", "told us", "by", DUTY[1][0]));
    else if (person->planned && !person->ended)
        laptop_note(world->laptop, "hold.set", person->id,
                    json_pack("{s:I, s:s, s:s}", "at", now, "why", "fall", "by", DUTY[1][0]));
    world_later(world,
                world_wait(world, "on the road", HOUR_MS,
                           world_chance(world, "a month", 10) ? 31 * DAY_MS : 9 * DAY_MS),
                laptop_is_back, -1, NULL);
    world_later(world, world_wait(world, "next away", 2 * DAY_MS, 9 * DAY_MS), write_on_laptop,
                index, NULL);
}

void world_staff_fill(World *world)
{
    world_later(world, world_wait(world, "first away", DAY_MS, 6 * DAY_MS), write_on_laptop, -1,
                NULL);
    world_later(world, 5 * HOUR_MS, go_through_alerts, -1, NULL);
    world_later(world, 9 * HOUR_MS, go_through_unread, -1, NULL);
    world_later(world, 3 * DAY_MS, change_something, -1, NULL);
}
