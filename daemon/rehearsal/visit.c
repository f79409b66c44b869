/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/visit.h"

#include <string.h>

#include "daemon/rehearsal/setup.h"

enum {
    FIRST_DAY = 8,
    SPREAD_DAYS = 4,
    EVERY_DAYS = 14,
    AT_S = (11 * 60 + 40) * 60,
    LONG_S = 20 * 60
};
enum { SETTLED_AFTER_DAYS = 6, UPKEEP_DAYS = 14 };

static const char *text_of(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

static bool is(const json_t *object, const char *field, const char *value)
{
    return g_strcmp0(text_of(object, field), value) == 0;
}

static char *path_of(const Resident *who, const char *rest)
{
    return g_strdup_printf("/clients/%s%s", who->id, rest);
}

/* True where osierd took it. */
static bool post(World *world, char *path, json_t *body)
{
    long status = 0;

    json_decref(link_ask(world->link, "POST", path, body, &status));
    g_free(path);
    return status == 200;
}

static void close_alert(World *world, const json_t *alert, const char *by, const char *outcome,
                        const char *note)
{
    post(world, g_strdup_printf("/alerts/%s/close", text_of(alert, "alert")),
         json_pack("{s:s, s:s, s:s}", "by", by, "outcome", outcome, "note", note));
}

/* --- what is open --------------------------------------------------------------------------- */

static Day day_of(const World *world, const json_t *object, const char *field)
{
    int64_t ms = world->now_ms;

    instant_parse(text_of(object, field) != NULL ? text_of(object, field) : "", &ms);
    return zone_local(world->zone, ms).day;
}

/* Whoever was referred comes back with what was found: a fresh screen, and it goes on. */
static void end_referral(World *world, const Resident *who, const json_t *alert, const char *by)
{
    Day today = zone_local(world->zone, world->now_ms).day;

    if (today - day_of(world, alert, "closed_at") < SETTLED_AFTER_DAYS) return;
    if (setup_screen(world, who, by))
        close_alert(world, alert, by, "resume", "seen and cleared; screened again, goes on");
}

/* What waits for a visit: matters of the digest, but for the review, and people on hold after a referral. */
static void settle_open(World *world, const Resident *who, bool held, const char *by)
{
    json_t *alerts = link_ask(world->link, "GET", "/alerts?all=1", NULL, NULL);
    size_t index;
    json_t *alert;

    json_array_foreach(alerts, index, alert)
    {
        if (!is(alert, "client", who->id)) continue;
        if (!is(alert, "state", "closed")) {
            if (is(alert, "class", "digest") && !is(alert, "kind", "review"))
                close_alert(world, alert, by, "resume",
                            "talked over at the visit; ease off a little");
        } else if (held && is(alert, "outcome", "refer")) {
            end_referral(world, who, alert, by);
        }
    }
    json_decref(alerts);
}

/* --- range ---------------------------------------------------------------------------------- */

/* One reading: the true angle, and the error of the hand that holds the goniometer. */
static void measure(World *world, Resident *who, const char *side, const char *by)
{
    double angle =
        person_range(&who->someone, world->random) + world_draw(world, "goniometer", 5) - 2;

    post(world, path_of(who, "/measures"),
         json_pack("{s:s, s:s, s:s, s:f, s:s}", "movement", "leg-raise", "side", side, "method",
                   "goniometer", "angle_deg", angle, "by", by));
}

static void measure_all(World *world, Resident *who, const char *by)
{
    measure(world, who, "left", by);
    measure(world, who, "right", by);
    post(world, path_of(who, "/measures"),
         json_pack("{s:s, s:s, s:i, s:s}", "movement", "own-task", "method", "asked", "value",
                   CLAMP(3 + (int)(who->someone.gain_deg / 4), 0, 10), "by", by));
}

/* --- moving --------------------------------------------------------------------------------- */

void visit_move_free(void *gone)
{
    Move *move = gone;

    json_decref(move->ready);
    g_free(move);
}

/* The clinician confirms what readiness points to, unless a matter is still open. */
static void confirm(World *world, const Resident *who, json_t *ready, const char *by)
{
    const char *to = text_of(ready, "to");

    if (to == NULL || is(ready, "stage", to) ||
        !post(world, path_of(who, "/plan/move"), json_pack("{s:s, s:s}", "stage", to, "by", by)))
        return;
    Move *move = g_new0(Move, 1);
    *move = (Move){.at_ms = world->now_ms, .who = who, .by = by, .ready = json_incref(ready)};
    g_ptr_array_add(world->moves, move);
}

static bool ends(const json_t *ready)
{
    size_t index;
    json_t *reason;

    json_array_foreach(json_object_get(ready, "reasons"), index, reason)
    {
        if (g_str_has_prefix(text_of(reason, "rule"), "the programme ends")) return true;
    }
    return false;
}

/* Whoever has kept up the last stage for a while is finished; the others go on. */
static void review(World *world, const Resident *who, const json_t *ready, const char *by)
{
    json_t *alerts = link_ask(world->link, "GET", "/alerts", NULL, NULL);
    Day today = zone_local(world->zone, world->now_ms).day;
    Day since = today;
    size_t index;
    json_t *alert;

    day_parse(text_of(ready, "stage_since") != NULL ? text_of(ready, "stage_since") : "", &since);
    bool finished = ends(ready) && today - since >= UPKEEP_DAYS;
    json_array_foreach(alerts, index, alert)
    {
        if (!is(alert, "client", who->id) || !is(alert, "kind", "review")) continue;
        close_alert(world, alert, by, finished ? "end" : "resume",
                    finished ? "bends from the hips, and knows how to keep it up"
                             : "reviewed; goes on");
    }
    json_decref(alerts);
}

/* --- the visit ------------------------------------------------------------------------------ */

/* How the client stands: "active", "held", ... (g_free), or NULL. */
static char *standing(World *world, const Resident *who)
{
    g_autofree char *path = path_of(who, "");
    json_t *client = link_ask(world->link, "GET", path, NULL, NULL);
    char *text = g_strdup(text_of(client, "standing"));

    json_decref(client);
    return text;
}

static json_t *ready_of(World *world, const Resident *who)
{
    g_autofree char *path = path_of(who, "/ready");

    return link_ask(world->link, "GET", path, NULL, NULL);
}

/* Who lives far away is seen by video, and not measured. */
static void visit(void *context, void *subject)
{
    World *world = context;
    Resident *who = subject;
    const char *by = setup_clinician(world, who);
    g_autofree char *stands = standing(world, who);
    bool held = g_strcmp0(stands, "held") == 0;

    if (!held && g_strcmp0(stands, "active") != 0) return;
    settle_open(world, who, held, by);
    if (who->someone.persona->zone == NULL) measure_all(world, who, by);
    json_t *ready = ready_of(world, who);
    review(world, who, ready, by);
    json_decref(ready);
    ready = ready_of(world, who);
    confirm(world, who, ready, by);
    json_decref(ready);
}

void visits_plan(World *world, int64_t start_ms, int64_t end_ms)
{
    Day from = zone_local(world->zone, start_ms).day;
    Day last = zone_local(world->zone, end_ms).day;

    for (size_t i = 0; i < world->n_residents; i++)
        for (Day day = from + FIRST_DAY + (Day)(i % SPREAD_DAYS); day <= last; day += EVERY_DAYS) {
            LocalTime at = {day, AT_S + (int32_t)(i % 6) * LONG_S};
            while (at.day <= last && !clinic_open(world->folder->clinic, at))
                at.day++;
            if (at.day <= last)
                agenda_add(world->agenda, zone_instant(world->zone, at, NULL), visit,
                           &world->residents[i], NULL);
        }
}
