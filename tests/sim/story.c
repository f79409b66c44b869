/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/story.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "tests/sim/clinic.h"
#include "tests/sim/local.h"

enum { CLIENTS = 8, HALF_HOUR_MS = 1800000 };

typedef struct {
    char *id;
    char *phone;
    GTimeZone *zone;
} Client;

/* A reply on its way, and whether it holds a sign that must be heard. */
typedef struct {
    char *id;
    char *phone;
    const char *text;
    const char *sign; /* NULL: none */
    int64_t at_ms;
    bool polled;
    bool acknowledged;
    guint index; /* in the inbox */
} Letter;

typedef struct {
    SimClinic *clinic;
    StoryFigures *figures;
    Client clients[CLIENTS];
    GPtrArray *letters; /* of Letter */
    GHashTable *seen;   /* message ids that reached a phone */
    GPtrArray *codes;   /* of "phone code": one-time codes that clinicians got */
} Story;

/* What people answer; the signs are everyday wordings that any reader must hear. */
static const struct {
    const char *text;
    const char *sign;
} PHRASES[] = {
    {"D 4 P0", NULL},
    {"done, a 4, no pain", NULL},
    {"N", NULL},
    {"Yes did them both, 5 out of 10", NULL},
    {"only did one side", NULL},
    {"done but some pain", NULL},
    {"8", NULL},
    {"D 9", NULL},
    {"P 6", NULL},
    {"what is this?", NULL},
    {"STOP", NULL},
    {"START", NULL},
    {"\xf0\x9f\x91\x8d", NULL},
    {"", NULL},
    {"asdf qwer", NULL},
    {"I fell in the kitchen this morning", "fall"},
    {"my calf is swollen and hot", "clot"},
    {"I have chest pain", "heart"},
};

static int draw(Story *story, const char *what, int below)
{
    return (int)random_below(story->clinic->random, what, (uint64_t)below);
}

/* --- the rules at the moment that a message leaves --- */

typedef struct {
    const Written *written;
    Story *story;
    char *kind;
    char *client;
    char *session;
    int64_t end_ms;
    bool barred;
    const char *bar;
    bool consent;
    int same_session; /* other messages of that kind for that session that may have gone out */
} Leaving;

static bool look_at_message(Tx *tx, void *context)
{
    Leaving *leaving = context;
    g_autoptr(Row) row = tx_get_text(tx, TABLE_OUTBOX, leaving->written->id);

    if (row == NULL) return true;
    leaving->kind = g_strdup(row_text(row, OUTBOX_KIND));
    leaving->client = g_strdup(row_text(row, OUTBOX_CLIENT));
    leaving->session = g_strdup(row_text(row, OUTBOX_SESSION));
    leaving->end_ms = row_int(row, OUTBOX_END);
    if (leaving->client == NULL) return true;
    g_autoptr(GPtrArray) bars = find_bars(tx, leaving->client);
    for (guint i = 0; i < bars->len; i++) {
        leaving->barred = true;
        leaving->bar = "a bar in force";
    }
    g_autoptr(GPtrArray) contacts = find_contacts(tx, leaving->client);
    for (guint i = 0; i < contacts->len; i++)
        leaving->consent = leaving->consent || !row_is_null(contacts->pdata[i], CONTACT_CONSENT);
    return true;
}

static const Client *client_of(const Story *story, const char *id)
{
    for (int i = 0; i < CLIENTS; i++)
        if (g_strcmp0(story->clients[i].id, id) == 0) return &story->clients[i];
    return NULL;
}

static bool is_quiet(const Client *client, int64_t ms)
{
    int minute = local_minute(client->zone, ms, NULL);

    return minute >= 21 * 60 || minute < 8 * 60;
}

/* "Never message someone who opted out, is held or paused, or at night; never twice; never past its end." */
static void check_leaving(Story *story, const Leaving *leaving)
{
    Trace *trace = story->clinic->trace;
    int64_t now = sim_now(story->clinic);
    const Client *client = client_of(story, leaving->client);
    bool asks = g_strcmp0(leaving->kind, "reminder") == 0 || g_strcmp0(leaving->kind, "nudge") == 0;

    if (client == NULL || !asks) return;
    if (is_quiet(client, now))
        trace_break(trace, "no reminder in quiet hours", "%s", leaving->written->text);
    if (leaving->barred)
        trace_break(trace, "no reminder under a bar", "client %s", leaving->client);
    if (!leaving->consent)
        trace_break(trace, "no message without consent", "client %s", leaving->client);
    if (leaving->end_ms != 0 && now >= leaving->end_ms)
        trace_break(trace, "no reminder past its end", "message %s", leaving->written->id);
}

static void reply_later(Story *story, const char *phone);

static void note_code(Story *story, const Written *written)
{
    for (const char *p = written->text; *p != '\0'; p++) {
        size_t run = strspn(p, "0123456789");
        if (run == 4) {
            g_ptr_array_add(story->codes, g_strdup_printf("%s %.4s", written->to, p));
            return;
        }
        if (run > 0) p += run - 1;
    }
}

static void on_written(const Written *written, void *context)
{
    Story *story = context;
    Leaving leaving = {.written = written, .story = story};

    if (written->mail) return;
    device_look(story->clinic->device, look_at_message, &leaving);
    check_leaving(story, &leaving);
    if (written->delivered) {
        story->figures->texts++;
        if (!g_hash_table_add(story->seen, g_strdup(written->id)) &&
            g_strcmp0(leaving.kind, "reminder") == 0)
            trace_break(story->clinic->trace, "no reminder twice", "message %s reached %s again",
                        written->id, written->to);
        if (g_strcmp0(leaving.kind, "alert") == 0)
            note_code(story, written);
        else if (g_strcmp0(leaving.kind, "reminder") == 0 ||
                 g_strcmp0(leaving.kind, "question") == 0)
            reply_later(story, written->to);
    }
    g_free(leaving.kind);
    g_free(leaving.client);
    g_free(leaving.session);
}

/* --- people --- */

static void add_letter(Story *story, const char *phone, const char *text, const char *sign,
                       int64_t at_ms)
{
    Letter *letter = g_new0(Letter, 1);

    *letter =
        (Letter){.id = g_strdup_printf("in-%u", story->letters->len),
                 .phone = g_strdup(phone),
                 .text = text,
                 .sign = sign,
                 .at_ms = at_ms + (int64_t)story->letters->len *
                                      SECOND_MS, /* no two at one instant: those would be one */
                 .index = G_MAXUINT};
    g_ptr_array_add(story->letters, letter);
}

static void reply_later(Story *story, const char *phone)
{
    int which = draw(story, "phrase", 40);
    size_t n = G_N_ELEMENTS(PHRASES);

    if (draw(story, "silent", 5) == 0) return;
    /* Most answers are plain ones. */
    size_t phrase = which < (int)n ? (size_t)which : (size_t)which % 4;
    add_letter(story, phone, PHRASES[phrase].text, PHRASES[phrase].sign,
               sim_now(story->clinic) + (1 + draw(story, "delay", 300)) * INT64_C(60000));
}

static char *letter_json(const Letter *letter)
{
    g_autofree char *at = instant_format(letter->at_ms);
    json_t *item = json_pack("{s:s, s:s, s:s, s:s}", "id", letter->id, "from", letter->phone,
                             "text", letter->text, "at", at);
    char *json = json_dumps(item, JSON_COMPACT);

    json_decref(item);
    return json;
}

static void on_heard(int status, void *context)
{
    Letter *letter = context;

    letter->acknowledged = letter->acknowledged || status / 100 == 2;
}

static void on_acknowledged(guint before, void *context)
{
    Story *story = context;

    for (guint i = 0; i < story->letters->len; i++) {
        Letter *letter = story->letters->pdata[i];
        if (letter->polled && letter->index < before) letter->acknowledged = true;
    }
}

/* Letters whose time has come go out; a webhook that was not acknowledged comes again. */
static void deliver(Story *story)
{
    for (guint i = 0; i < story->letters->len; i++) {
        Letter *letter = story->letters->pdata[i];
        if (letter->at_ms > sim_now(story->clinic) || letter->acknowledged || letter->polled)
            continue;
        g_autofree char *json = letter_json(letter);
        if (i % 2 == 0) {
            letter->polled = true;
            letter->index = standin_put(story->clinic->standin, json);
            continue;
        }
        int copies = 1 + (draw(story, "twice", 10) == 0);
        for (int n = 0; n < copies; n++)
            sim_hook(story->clinic, "/in/texts", json, on_heard, letter);
    }
}

/* Clinicians answer with the code, or take and close by command. */
static void staff_round(Story *story)
{
    int status;

    while (story->codes->len > 0) {
        g_autofree char *code = g_ptr_array_steal_index(story->codes, 0);
        char *space = strchr(code, ' ');
        *space = '\0';
        if (draw(story, "takes by text", 2) == 0)
            add_letter(story, code, g_intern_string(space + 1), NULL,
                       sim_now(story->clinic) + 60000);
    }
    if (story->clinic->daemon == NULL) return;
    json_t *alerts = sim_call(story->clinic, "GET", "/alerts", NULL, &status);
    for (size_t i = 0; status == 200 && i < json_array_size(alerts); i++) {
        const char *id = json_string_value(json_object_get(json_array_get(alerts, i), "alert"));
        g_autofree char *path = g_strdup_printf("/alerts/%s/close", id);
        if (draw(story, "closes", 3) != 0) continue;
        json_t *answer =
            sim_call(story->clinic, "POST", path,
                     json_pack("{s:s, s:s}", "by", "R. Okafor", "outcome", "resume"), &status);
        json_decref(answer);
        status = 200;
    }
    json_decref(alerts);
}

/* --- the rules that the tables must keep --- */

static void keep_texts(const TxResult *result, void *context)
{
    g_ptr_array_add(context, g_strdup(result->text[0]));
}

static void expect_none(Story *story, Tx *tx, const char *rule, const char *sql, int64_t when_ms)
{
    g_autoptr(GPtrArray) found = g_ptr_array_new_with_free_func(g_free);

    tx_select(tx, sql, keep_texts, found, "i", when_ms);
    if (found->len > 0)
        trace_break(story->clinic->trace, rule, "%s and %u more", (char *)found->pdata[0],
                    found->len - 1);
}

static bool count_row(Tx *tx, const Letter *letter, const char *sql)
{
    g_autoptr(GPtrArray) found = g_ptr_array_new_with_free_func(g_free);

    tx_select(tx, sql, keep_texts, found, "t", letter->id);
    return found->len == 1;
}

/* "Every raw reply that was acknowledged is in the ledger once; every warning sign has an alert." */
static void check_letters(Story *story, Tx *tx)
{
    int replies = 0;

    for (guint i = 0; i < story->letters->len; i++) {
        const Letter *letter = story->letters->pdata[i];
        if (!letter->acknowledged) continue;
        replies++;
        if (!count_row(tx, letter, "SELECT id FROM reply WHERE gateway_id = ?1"))
            trace_break(story->clinic->trace, "an acknowledged reply is in the ledger once", "%s",
                        letter->id);
        bool heard =
            letter->sign == NULL ||
            count_row(
                tx, letter,
                "SELECT 'x' FROM reply r WHERE r.gateway_id = ?1 AND EXISTS (SELECT 1 FROM event e "
                "WHERE "
                "e.kind IN ('alert.opened', 'alert.repeated') AND e.body LIKE '%' || r.id || '%')");
        if (!heard)
            trace_break(story->clinic->trace, "every warning sign has an alert", "%s: %s",
                        letter->id, letter->text);
    }
    story->figures->replies = replies;
}

static bool check_tables(Tx *tx, void *context)
{
    Story *story = context;
    int64_t now = sim_now(story->clinic);

    expect_none(story, tx, "every reply ends as read, unread, settled or command",
                "SELECT id FROM reply WHERE ?1 > 0 AND state NOT IN ('read', 'unread', 'settled', "
                "'command')",
                now);
    expect_none(
        story, tx, "a session past its time has one of the six outcomes",
        "SELECT id FROM session WHERE state IN ('asked', 'planned') AND utc + 21 * 3600000 < ?1",
        now);
    expect_none(story, tx, "silent only where the reminder was accepted",
                "SELECT s.id FROM session s WHERE ?1 > 0 AND s.state = 'silent' AND NOT EXISTS "
                "(SELECT 1 FROM message m "
                "WHERE m.id = s.message AND m.fate IN ('accepted', 'delivered'))",
                now);
    expect_none(story, tx, "an open alert is being passed on",
                "SELECT a.id FROM alert a WHERE ?1 > 0 AND a.opened = 1 AND a.state = 'open' AND "
                "a.class <> 'digest' AND "
                "NOT EXISTS (SELECT 1 FROM due d WHERE d.kind = 'alert' AND d.key = a.id)",
                now);
    expect_none(story, tx, "a taken alert wants its outcome",
                "SELECT a.id FROM alert a WHERE ?1 > 0 AND a.state = 'taken' AND a.class <> "
                "'digest' AND NOT EXISTS "
                "(SELECT 1 FROM due d WHERE d.kind = 'taken' AND d.key = a.id)",
                now);
    expect_none(story, tx, "nobody gets more started messages a day than the cap",
                "SELECT client FROM message WHERE ?1 > 0 AND kind IN ('reminder', 'nudge', "
                "'checkin', 'welcome') AND fate "
                "IN ('accepted', 'delivered') AND client IS NOT NULL GROUP BY client, at / "
                "43200000 HAVING count(*) > 4",
                now);
    check_letters(story, tx);
    return true;
}

/* --- faults --- */

static void change_weather(Story *story)
{
    bool bad = draw(story, "bad weather", 10) == 0;

    standin_set_weather(story->clinic->standin,
                        bad ? (Weather)draw(story, "weather", WEATHER_COUNT) : WEATHER_CLEAR);
    standin_set_strays(story->clinic->standin, draw(story, "strays", 4) == 0 ? 50 : 0);
}

static void strike(Story *story)
{
    SimClinic *clinic = story->clinic;
    int which = draw(story, "strike", 60);

    if (clinic->daemon == NULL) {
        if (draw(story, "starts", 4) == 0) sim_start(clinic);
    } else if (which == 0) {
        story->figures->crashes++;
        sim_cut(clinic, draw(story, "cut", 2) == 0 ? CUT_BEFORE : CUT_AFTER,
                draw(story, "sent", 2) == 0);
        sim_start(clinic);
    } else if (which == 1) {
        sim_stop(clinic);
    } else if (which == 2) {
        device_fill(clinic->device, 1 + draw(story, "full", 5));
    }
}

/* --- the story --- */

static void enrol(Story *story)
{
    static const char *const ZONES[] = {"Europe/London", "America/New_York", "Europe/Madrid",
                                        "Asia/Kathmandu"};
    static const char *const TIMES[] = {"08:30", "09:15,18:30", "12:00", "10:45,16:00"};

    for (int i = 0; i < CLIENTS; i++) {
        Client *client = &story->clients[i];
        const char *zone = ZONES[i % 4];
        int status;
        client->phone = g_strdup_printf("+4477009001%02d", i);
        client->zone = g_time_zone_new_identifier(zone);
        json_t *answer = sim_call(story->clinic, "POST", "/clients",
                                  json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                                            zone, "channel", "sms", "phone", client->phone,
                                            "consent", "sms: signed form"),
                                  &status);
        client->id = g_strdup(json_string_value(json_object_get(answer, "client")));
        json_decref(answer);
        g_autofree char *screen = g_strdup_printf("/clients/%s/screen", client->id);
        g_autofree char *plan = g_strdup_printf("/clients/%s/plan", client->id);
        json_decref(sim_call(
            story->clinic, "POST", screen,
            json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1), &status));
        json_decref(sim_call(story->clinic, "POST", plan,
                             json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at",
                                       TIMES[i % 4], "stage", "lower-hamstring"),
                             &status));
        if (status != 200)
            trace_break(story->clinic->trace, "a plan can be set", "status %d", status);
    }
}

/* Somebody goes away for some days, or comes back early. */
static void come_and_go(Story *story)
{
    Client *client = &story->clients[draw(story, "who", CLIENTS)];
    int status;

    if (story->clinic->daemon == NULL || draw(story, "comes or goes", 40) != 0) return;
    g_autofree char *path = g_strdup_printf("/clients/%s/%s", client->id,
                                            draw(story, "back", 2) == 0 ? "resume" : "pause");
    g_autofree char *at = instant_format(sim_now(story->clinic) + 3 * DAY_MS);
    at[10] = '\0';
    json_decref(sim_call(story->clinic, "POST", path,
                         json_pack("{s:s, s:s}", "until", at, "why", "away"), &status));
}

static void letter_free(void *data)
{
    Letter *letter = data;

    g_free(letter->id);
    g_free(letter->phone);
    g_free(letter);
}

static void story_clear(Story *story)
{
    for (int i = 0; i < CLIENTS; i++) {
        g_free(story->clients[i].id);
        g_free(story->clients[i].phone);
        g_time_zone_unref(story->clients[i].zone);
    }
    g_ptr_array_unref(story->letters);
    g_ptr_array_unref(story->codes);
    g_hash_table_unref(story->seen);
    sim_clinic_free(story->clinic);
}

bool story_live(uint64_t seed, int days, StoryFigures *figures)
{
    int64_t start_ms;

    /* Over the March changes of the clocks. */
    g_assert(
        instant_parse(seed % 2 == 0 ? "2026-03-05T06:00:00Z" : "2026-03-26T06:00:00Z", &start_ms));
    SimSetup setup = {.seed = seed, .start_ms = start_ms, .takes_key = seed % 3 == 0};
    Story story = {.clinic = sim_clinic_new(&setup),
                   .figures = figures,
                   .letters = g_ptr_array_new_with_free_func(letter_free),
                   .codes = g_ptr_array_new_with_free_func(g_free),
                   .seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
    SimClinic *clinic = story.clinic;

    standin_watch(clinic->standin, on_written, on_acknowledged, &story);
    sim_start(clinic);
    enrol(&story);
    for (int64_t at = start_ms; at < start_ms + days * DAY_MS && !trace_broken(clinic->trace);
         at += HALF_HOUR_MS) {
        change_weather(&story);
        sim_to(clinic, at);
        deliver(&story);
        if (clinic->daemon != NULL) sim_settle(clinic);
        staff_round(&story);
        come_and_go(&story);
        strike(&story);
        /* With room on the device and the daemon up, everything in hand has come to rest. */
        if (clinic->daemon != NULL && !device_is_full(clinic->device))
            device_look(clinic->device, check_tables, &story);
    }
    bool good = !trace_broken(clinic->trace);
    figures->days += days;
    story_clear(&story);
    return good;
}
