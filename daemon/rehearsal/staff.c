/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/staff.h"

#include <string.h>

#include "daemon/rehearsal/desk_round.h"

/* --- closing an alert ----------------------------------------------------------------------- */

static const struct {
    const char *kind;
    const char *outcome;
    const char *note;
} OUTCOMES[] = {
    {"clot", "refer", "rang; to be seen today, scan arranged through the family doctor"},
    {"heart", "refer", "rang; ambulance called, daughter is with her"},
    {"stroke", "refer", "rang; ambulance called"},
    {"cauda", "refer", "rang; sent to hospital at once"},
    {"crisis", "refer", "rang and stayed on the line; crisis team has taken over"},
    {"fracture", "refer", "rang; X-ray today"},
    {"nerve", "refer", "rang; to be seen this week before any more stretching"},
    {"fall", "resume", "rang; a stumble, no injury, goes on by the bed"},
    {"pain", "step-back", "rang; has been pulling hard, one step back for now"},
    {"missed-run", "resume", "rang; had lost heart, goes on from tomorrow"},
    {"stopped", "end", "rang; has had enough for now, welcome back any time"},
    {"undeliverable", "resume", "rang the landline; number was written down wrong, put right"},
};

static int outcome_of(const char *kind)
{
    for (size_t i = 0; i < G_N_ELEMENTS(OUTCOMES); i++)
        if (g_strcmp0(OUTCOMES[i].kind, kind) == 0) return (int)i;
    return -1;
}

/* A number that reaches nobody is put right before its alert is closed. */
static void put_number_right(World *world, const char *client)
{
    Resident *who = world_resident(world, client);

    if (who == NULL || who->someone.persona->old_phone == NULL ||
        g_strcmp0(who->phone, who->someone.persona->phone) == 0)
        return;
    g_autofree char *path = g_strconcat("/clients/", client, NULL);
    json_decref(link_ask(world->link, "POST", path,
                         json_pack("{s:s}", "phone", who->someone.persona->phone), NULL));
    g_free(who->phone);
    who->phone = g_strdup(who->someone.persona->phone);
}

/* True where osierd took the outcome. */
static bool put_outcome(World *world, const char *alert, const char *by, const char *outcome,
                        const char *note)
{
    g_autofree char *path = g_strdup_printf("/alerts/%s/close", alert);
    long status = 0;

    json_decref(link_ask(world->link, "POST", path,
                         json_pack("{s:s, s:s, s:s}", "by", by, "outcome", outcome, "note", note),
                         &status));
    return status == 200;
}

/* Who is at the first stage already cannot step back; they go on, more gently. */
static void close_one(World *world, const json_t *alert, const char *by)
{
    const char *id = json_string_value(json_object_get(alert, "alert"));
    const char *kind = json_string_value(json_object_get(alert, "kind"));
    const char *client = json_string_value(json_object_get(alert, "client"));
    int n = outcome_of(kind);
    const char *outcome = n >= 0 ? OUTCOMES[n].outcome : "resume";

    if (g_strcmp0(kind, "undeliverable") == 0 && client != NULL) put_number_right(world, client);
    if (!put_outcome(world, id, by, outcome, n >= 0 ? OUTCOMES[n].note : "rang; all is well") &&
        strcmp(outcome, "step-back") == 0)
        put_outcome(world, id, by, "resume",
                    "rang; has been pulling hard, goes on with half of it, gently");
}

/* --- taking one ----------------------------------------------------------------------------- */

/* What a clinician is about to do about a client's alert. */
typedef struct {
    const DutyPerson *person;
    char *client; /* its id */
    char *words;  /* to text back */
} Errand;

static Errand *errand_new(const DutyPerson *person, const char *client, char *words)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){person, g_strdup(client), words};
    return errand;
}

static void errand_free(void *data)
{
    Errand *errand = data;

    g_free(errand->client);
    g_free(errand->words);
    g_free(errand);
}

static bool is(const json_t *alert, const char *field, const char *value)
{
    return g_strcmp0(json_string_value(json_object_get(alert, field)), value) == 0;
}

/* Closes what this clinician took for the client. */
static void close_errand(void *context, void *subject)
{
    World *world = context;
    const Errand *errand = subject;
    json_t *alerts = link_ask(world->link, "GET", "/alerts", NULL, NULL);
    size_t index;
    json_t *alert;

    json_array_foreach(alerts, index, alert)
    {
        if (is(alert, "client", errand->client) && is(alert, "state", "taken") &&
            is(alert, "taken_by", errand->person->name))
            close_one(world, alert, errand->person->name);
    }
    json_decref(alerts);
}

/* Ringing takes a while; now and then the outcome is forgotten until osier asks again. */
static void plan_close(World *world, const DutyPerson *person, const char *client)
{
    int minutes = world_draw(world, "forgets the outcome", 8) == 0
                      ? 130 + world_draw(world, "outcome", 40)
                      : 15 + world_draw(world, "outcome", 75);

    agenda_add(world->agenda, world->now_ms + minutes * MINUTE_MS, close_errand,
               errand_new(person, client, NULL), errand_free);
}

static void take_by_text(void *context, void *subject)
{
    World *world = context;
    const Errand *errand = subject;

    world_text(world, errand->person->sms, errand->words, NULL, NULL);
}

static void take_by_command(void *context, void *subject)
{
    World *world = context;
    const Errand *errand = subject;
    json_t *alerts = link_ask(world->link, "GET", "/alerts", NULL, NULL);
    size_t index;
    json_t *alert;

    json_array_foreach(alerts, index, alert)
    {
        if (!is(alert, "client", errand->client) || !is(alert, "state", "open") ||
            is(alert, "class", "digest"))
            continue;
        g_autofree char *path =
            g_strdup_printf("/alerts/%s/take", json_string_value(json_object_get(alert, "alert")));
        json_decref(link_ask(world->link, "POST", path,
                             json_pack("{s:s}", "by", errand->person->name), NULL));
    }
    json_decref(alerts);
    plan_close(world, errand->person, errand->client);
}

/* At night some do not hear their phone, by day a few are with somebody. */
static bool hears(World *world)
{
    int32_t second = zone_local(world->zone, world->now_ms).second;
    bool night = second < 7 * 3600 || second >= 22 * 3600;

    return world_draw(world, "hears the phone", 100) >= (night ? 40 : 15);
}

static char *take_words(World *world, const char *code)
{
    static const char *const WAYS[] = {"TAKE %s", "Take %s", "%s", "take %s thanks"};
    const char *way = WAYS[world_draw(world, "taking", G_N_ELEMENTS(WAYS))];
    GString *words = g_string_new(way);

    g_string_replace(words, "%s", code, 1);
    return g_string_free(words, FALSE);
}

static void hear_alert(World *world, const DutyPerson *person, const char *key, const char *client,
                       const char *code)
{
    bool urgent = strcmp(key, "alert-now") == 0 || g_str_has_prefix(key, "alert-again");
    int minutes =
        urgent ? 2 + world_draw(world, "answers", 10) : 4 + world_draw(world, "answers", 40);
    bool texts = person->sms != NULL && code != NULL && *code != '\0' &&
                 world_draw(world, "by text", 100) < 75;

    if (client == NULL || !hears(world)) return;
    agenda_add(world->agenda, world->now_ms + minutes * MINUTE_MS,
               texts ? take_by_text : take_by_command,
               errand_new(person, client, texts ? take_words(world, code) : NULL), errand_free);
}

void staff_hear(World *world, const DutyPerson *person, const char *key, GHashTable *values)
{
    const char *code = g_hash_table_lookup(values, "client_code");
    /* A matter of nobody's is told as osier's, and kept as the clinic's. */
    const char *client = g_strcmp0(code, "osier") == 0 ? "clinic" : code;

    if (key == NULL) return;
    if (strcmp(key, "alert-now") == 0 || strcmp(key, "alert-today") == 0 ||
        g_str_has_prefix(key, "alert-again") || strcmp(key, "alert-overdue") == 0 ||
        strcmp(key, "alert-mail") == 0)
        hear_alert(world, person, key, client, g_hash_table_lookup(values, "code"));
    else if (strcmp(key, "alert-taken") == 0 && client != NULL)
        plan_close(world, person, client);
}

/* --- the desk ------------------------------------------------------------------------------- */

static void do_round(void *world, void *unused)
{
    (void)unused;
    desk_round(world);
}

void staff_plan_rounds(World *world, int64_t start_ms, int64_t end_ms)
{
    static const int32_t AT[] = {10 * 3600 + 40 * 60, 15 * 3600 + 10 * 60};
    Day day = zone_local(world->zone, start_ms).day;
    Day last = zone_local(world->zone, end_ms).day;

    for (; day <= last; day++)
        for (size_t i = 0; i < G_N_ELEMENTS(AT); i++) {
            LocalTime local = {day, AT[i]};
            if (clinic_open(world->folder->clinic, local))
                agenda_add(world->agenda, zone_instant(world->zone, local, NULL), do_round, NULL,
                           NULL);
        }
}
