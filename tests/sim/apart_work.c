/* SPDX-License-Identifier: Apache-2.0 */
/* What people do on the replicas of a clinic, drawn at random, through the JSON API; and what a client's own STOP and START leave. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "daemon/desk/person.h"
#include "tests/sim/apart_inside.h"
#include "tests/support/json_look.h"

#define BY "R. Okafor"

static const char *someone(Apart *apart)
{
    if (apart->people->len == 0) return NULL;
    return apart->people->pdata[apart_draw(apart, apart->people->len)];
}

static bool ask(Replica *replica, const char *client, const char *tail, json_t *body)
{
    g_autofree char *path = g_strdup_printf("/clients/%s%s", client, tail);
    json_t *answer = apart_call(replica, "POST", path, body);
    bool taken = answer != NULL;

    json_decref(answer);
    return taken;
}

static void set_plan(Replica *replica, const char *client)
{
    static const char *const TIMES[] = {"08:30", "10:00", "09:15,18:00"};

    ask(replica, client, "/plan",
        json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at",
                  TIMES[apart_draw(replica->apart, 3)], "stage", "calf-with-strap"));
}

/* Every person has a number of the same few: a second entry of one is the same person. */
static void add(Replica *replica, const char *client)
{
    g_autofree char *phone =
        g_strdup_printf("+4420794600%02d", 10 + (int)apart_draw(replica->apart, 6));
    json_t *answer =
        apart_call(replica, "POST", "/clients",
                   json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                             "Europe/London", "language", "en", "channel", "sms", "phone", phone,
                             "consent", "sms: signed form, R. Okafor, 2026-03-01"));
    char *id = answer != NULL ? look_copy(answer, "client") : NULL;

    (void)client;
    json_decref(answer);
    if (id == NULL) return;
    g_ptr_array_add(replica->apart->people, id);
    ask(replica, id, "/screen", json_pack("{s:s, s:s, s:b}", "by", BY, "floor", "yes", "clear", 1));
    if (apart_draw(replica->apart, 4) > 0) set_plan(replica, id);
}

static void change(Replica *replica, const char *client)
{
    static const char *const NEEDS[] = {"large print", "rings back", "hard of hearing"};

    ask(replica, client, "", json_pack("{s:s}", "needs", NEEDS[apart_draw(replica->apart, 3)]));
}

static void consent(Replica *replica, const char *client)
{
    ask(replica, client, "",
        json_pack("{s:s}", "consent", "sms: by word, J. Lindqvist, 2026-03-02"));
}

static void move(Replica *replica, const char *client)
{
    static const char *const STAGES[] = {"calf-with-strap", "upper-hamstring"};

    ask(replica, client, "/plan/move",
        json_pack("{s:s, s:s}", "stage", STAGES[apart_draw(replica->apart, 2)], "by", BY));
}

static void pause_client(Replica *replica, const char *client)
{
    ask(replica, client, "/pause",
        json_pack("{s:s, s:s}", "until",
                  apart_draw(replica->apart, 2) ? "2026-03-09" : "2026-08-01", "why",
                  apart_draw(replica->apart, 3) == 0 ? "hospital" : "away"));
}

static void resume(Replica *replica, const char *client)
{
    ask(replica, client, "/resume", json_object());
}

static void end_client(Replica *replica, const char *client)
{
    if (apart_draw(replica->apart, 3) == 0)
        ask(replica, client, "/end", json_pack("{s:s}", "why", "finished"));
}

static void report(Replica *replica, const char *client)
{
    bool pain = apart_draw(replica->apart, 5) == 0;

    ask(replica, client, "/reports",
        json_pack("{s:s, s:i, s:s, s:i, s:i, s:s}", "date", "2026-03-02", "slot", 1, "done", "yes",
                  "intensity", 4, "pain", pain ? 8 : 0, "by", BY));
}

static void measure(Replica *replica, const char *client)
{
    ask(replica, client, "/measures",
        json_pack("{s:s, s:s, s:s, s:i, s:s}", "movement", "leg-raise", "side", "left", "method",
                  "goniometer", "value", 55 + (int)apart_draw(replica->apart, 20), "by", BY));
}

static void open_alert(Replica *replica, const char *client)
{
    ask(replica, client, "/alerts",
        json_pack("{s:s, s:s, s:s}", "kind", "fall", "words", "told us at the door", "by", BY));
}

/* The first alert that is open here: taken, or closed. */
static void act_on_alert(Replica *replica, const char *client)
{
    json_t *alerts = apart_call(replica, "GET", "/alerts", NULL);
    const char *id = json_string_value(json_object_get(json_array_get(alerts, 0), "alert"));
    bool take = apart_draw(replica->apart, 2) == 0;
    g_autofree char *path =
        g_strdup_printf("/alerts/%s/%s", id != NULL ? id : "", take ? "take" : "close");

    (void)client;
    if (id != NULL)
        json_decref(
            apart_call(replica, "POST", path,
                       take ? json_pack("{s:s}", "by", BY)
                            : json_pack("{s:s, s:s}", "by", BY, "outcome",
                                        apart_draw(replica->apart, 2) ? "resume" : "refer")));
    json_decref(alerts);
}

typedef struct {
    const char *client;
    bool stop;
} Word;

/* A clinician writes down that the client wants no messages, or wants them again. */
static bool word_job(Job *job, void *context)
{
    const Word *word = context;
    g_autoptr(Person) person = person_load(job, word->client);

    if (person == NULL || person->stopped == word->stop) return true;
    json_t *ends = json_array();
    for (guint i = 0; i < person->bars->len; i++)
        if (strcmp(row_text(person->bars->pdata[i], BAR_KIND), "stop") == 0)
            json_array_append_new(ends, json_string(row_text(person->bars->pdata[i], BAR_ID)));
    tx_append(job->tx, word->stop ? "client.stop" : "client.start", word->client, BY, NULL,
              json_pack("{s:I, s:s, s:O}", "at", (json_int_t)job->now_ms, "by", BY, "ends", ends));
    json_decref(ends);
    return true;
}

static void stop_or_start(Replica *replica, const char *client)
{
    Word word = {client, apart_draw(replica->apart, 3) > 0};

    trace_note(replica->apart->trace, "replica %d: %s wants %s", replica->number, client,
               word.stop ? "no messages" : "messages again");
    apart_job(replica, word_job, &word);
}

static void erase(Replica *replica, const char *client)
{
    if (apart_draw(replica->apart, 3) == 0 &&
        ask(replica, client, "/erase", json_pack("{s:s, s:s}", "by", BY, "why", "early: asked")))
        replica->apart->tally->erased++;
}

static void join(Replica *replica, const char *client)
{
    const char *other = someone(replica->apart);

    if (ask(replica, client, "/same-as", json_pack("{s:s, s:s}", "as", other, "by", BY)))
        replica->apart->tally->joined++;
}

static void take_duty(Replica *replica, const char *client)
{
    (void)client;
    if (apart_draw(replica->apart, 2) == 0) return;
    json_decref(apart_call(replica, "POST", "/sender", json_pack("{s:s}", "by", BY)));
    replica->apart->tally->duties++;
}

void apart_work(Replica *replica)
{
    static void (*const WORKS[])(Replica *, const char *) = {
        add,    add,          change,       consent, set_plan,      move,      pause_client,
        resume, end_client,   report,       measure, open_alert,    erase,     stop_or_start,
        join,   act_on_alert, act_on_alert, join,    stop_or_start, take_duty,
    };
    const char *client = someone(replica->apart);
    uint64_t which = client != NULL ? apart_draw(replica->apart, G_N_ELEMENTS(WORKS)) : 0;
    g_autofree char *id = g_strdup(client);

    WORKS[which](replica, id);
}
