/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "core/watch/duty.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/checkin.h"
#include "daemon/jobs/reply.h"

#define LATE_MS (2 * HOUR_MS)
#define BEFORE_ARRIVAL_MS (48 * HOUR_MS)
#define AFTER_ARRIVAL_MS (5 * MINUTE_MS)
#define ANSWERS_WITHIN_MS (36 * HOUR_MS)

static char *normal_address(Job *job, const char *from, Channel channel)
{
    const char *why;

    if (from == NULL) return NULL;
    if (channel == CHANNEL_EMAIL) return g_utf8_strdown(from, -1);
    char *number = phone_e164(from, job->clinic->country_code, &why);
    return number != NULL ? number : g_strdup(from);
}

bool reply_store(Job *job, const char *gateway, Channel channel, const Incoming *incoming)
{
    const char *text = incoming->text != NULL ? incoming->text : incoming->raw;
    int64_t at_ms = incoming->at_ms >= 0 ? incoming->at_ms : job->now_ms;
    g_autofree char *id = id_reply(gateway, incoming->id, incoming->from, text, at_ms);
    g_autofree char *print = NULL;
    g_autoptr(Row) before = tx_get_text(job->tx, TABLE_REPLY, id);

    if (before != NULL) return false;
    /* Without the gateway's time two equal texts may be two answers; with it they are one. */
    if (incoming->at_ms >= 0 && incoming->from != NULL && text != NULL) {
        g_autofree char *address = normal_address(job, incoming->from, channel);
        print = id_reply_fingerprint(address, text, incoming->at_ms);
        if (find_fingerprint(job->tx, print) > 0) return false;
    }
    tx_append(job->tx, "reply.received", id, "client", NULL,
              json_pack("{s:s, s:s?, s:s?, s:s?, s:s, s:s?, s:I, s:I, s:s?}", "gateway", gateway,
                        "gateway_id", incoming->id, "fingerprint", print, "from", incoming->from,
                        "channel", channel_name(channel), "text", text, "at", (json_int_t)at_ms,
                        "arrived", (json_int_t)job->now_ms, "problem", incoming->problem));
    return true;
}

/* Settles what a reply amounted to. reading is lent, or NULL. */
static void put_read(Job *job, const char *reply, const char *client, const char *session,
                     const Reading *reading, const char *state, bool glance, const char *why)
{
    tx_append(job->tx, "reply.read", reply, "osier", NULL,
              json_pack("{s:s?, s:s?, s:o, s:s, s:b, s:s?}", "client", client, "session", session,
                        "reading", reading != NULL ? reading_json(reading) : json_null(), "state",
                        state, "glance", glance, "why", why));
    if (strcmp(state, "unread") == 0)
        due_set(job->tx, "unread", reply, job->now_ms + DAY_MS, NULL, NULL);
}

static Reading *read_text(Job *job, const char *language, const char *text)
{
    g_autoptr(GPtrArray) packs = settings_packs(job->settings, language);

    return reply_read((const Pack *const *)packs->pdata, (int)packs->len, text, strlen(text));
}

/* When the reply counts as said: its own time where that is plausible, else its arrival. */
static int64_t said_at(const Row *row)
{
    int64_t at = row_int(row, REPLY_AT);
    int64_t arrived = row_int(row, REPLY_ARRIVED);

    return at >= arrived - BEFORE_ARRIVAL_MS && at <= arrived + AFTER_ARRIVAL_MS ? at : arrived;
}

static bool is_late(const Row *row)
{
    return row_int(row, REPLY_ARRIVED) - said_at(row) > LATE_MS;
}

/* The session that a reply answers: the one asked last before it was said, within a day and a half.
 */
static char *answered_session(Job *job, const char *client, int64_t at_ms)
{
    g_autoptr(GPtrArray) asked = find_asked(job->tx, client, at_ms, 1);

    if (asked->len == 0 || row_int(asked->pdata[0], SESSION_ASKED_AT) < at_ms - ANSWERS_WITHIN_MS)
        return NULL;
    return g_strdup(row_text(asked->pdata[0], SESSION_ID));
}

static bool says_something(const Reading *reading)
{
    return reading->done != DONE_UNSAID || reading->intensity >= 0 ||
           reading->pain_kind != PAIN_UNSAID;
}

/* A reply that left words unread, or that came to nothing at all, is seen once by a person. */
static bool wants_glance(const Reading *reading)
{
    return reading->rest != NULL ||
           (reading->command == COMMAND_NONE && reading->letter == 0 && !says_something(reading));
}

static bool is_bare_number(const char *text)
{
    size_t digits = 0;

    for (const char *p = text; *p != '\0'; p++) {
        if (g_ascii_isdigit(*p))
            digits++;
        else if (!g_ascii_isspace(*p) && *p != '.')
            return false;
    }
    return digits > 0;
}

/* "about a 2": nothing but a number was read, and there was nothing else. */
static bool is_number_alone(const Reading *reading)
{
    return reading->intensity >= 0 && reading->rest == NULL &&
           g_strcmp0(reading->from_done, reading->from_intensity) == 0;
}

/* Why a person must look, or NULL where the reading suffices. */
static const char *person_reason(const Reading *reading, const char *session)
{
    if (reading->suspend)
        return "words of a death, a hospital or an illness: messages are suspended";
    if (reading->warning != WARNING_NONE) return "a warning sign: see the alert";
    if (reading->person && !checkin_only(reading)) return "osier is not sure of this one";
    if (reading->command != COMMAND_NONE) return NULL;
    if (says_something(reading) && session == NULL)
        return "no session was asked that this could answer";
    if (!says_something(reading) && reading->letter == 0 && reading->rest != NULL)
        return "osier could not read it";
    return NULL;
}

/* A sign, or pain: what cannot wait for a person to say whose it is. */
static bool is_grave(const Reading *reading)
{
    return reading->warning != WARNING_NONE || reading->ambiguous_high ||
           (reading->pain_kind == PAIN_NUMBER && reading->pain > 0);
}

/* One client's reply, from the raw row to what follows. */
static void take_reply(Job *job, const Row *row, const char *client, const char *address,
                       Channel channel)
{
    const char *id = row_text(row, REPLY_ID);
    const char *text = row_text(row, REPLY_TEXT);
    g_autoptr(Person) person = person_load(job, client);
    g_assert(person != NULL);
    int64_t at_ms = job->made_up ? row_int(row, REPLY_ARRIVED) : said_at(row);
    g_autofree char *session = answered_session(job, client, at_ms);
    const char *unsure;
    g_autoptr(Reading) reading = checkin_read(job, person, text, session, at_ms, &unsure);
    if (checkin_only(reading)) g_clear_pointer(&session, g_free);
    const char *why = unsure != NULL ? unsure : person_reason(reading, session);
    const char *state = why != NULL                        ? "unread"
                        : reading->command != COMMAND_NONE ? "command"
                                                           : "read";

    put_read(job, id, client, session, reading, state, why == NULL && wants_glance(reading), why);
    if (reading->suspend) reply_suspend(job, person, id);
    checkin_record(job, person, reading, id, "client");
    if (unsure != NULL && !is_grave(reading)) return;
    ReplyCase about = {.reply = id,
                       .session = session,
                       .channel = channel,
                       .from = address,
                       .by = "client",
                       .late = is_late(row),
                       .bare = is_bare_number(text) || is_number_alone(reading)};
    if (reading->command != COMMAND_NONE) reply_command(job, person, reading, &about);
    reply_act(job, person, reading, &about);
}

/* A sign, pain or a stop from an address that is not surely one client's is acted on for each who may have written. */
static void act_for_each(Job *job, const Row *row, const GPtrArray *contacts, const char *address,
                         Channel channel, const Reading *reading)
{
    ReplyCase about = {.reply = row_text(row, REPLY_ID),
                       .channel = channel,
                       .from = address,
                       .by = "client",
                       .late = is_late(row)};

    for (guint i = 0; i < contacts->len; i++) {
        g_autoptr(Person) person = person_load(job, row_text(contacts->pdata[i], CONTACT_CLIENT));
        if (person == NULL) continue;
        if (reading->suspend) reply_suspend(job, person, about.reply);
        if (reading->command == COMMAND_STOP) reply_command(job, person, reading, &about);
        if (is_grave(reading)) reply_act(job, person, reading, &about);
    }
}

/* A stranger's warning sign: nobody can be held, but a clinician hears of it. */
static void alert_for_stranger(Job *job, const char *reply, const char *address,
                               const Reading *reading)
{
    const char *sign = read_warning_name(reading->warning);
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_words("warning", sign, reading->from_warning));
    json_array_append_new(reasons, reason_words("stranger", address != NULL ? address : "", NULL));
    g_free(alert_open(job, NULL,
                      &(Opening){.kind = sign,
                                 .class = warning_class(reading->warning),
                                 .cause = reply,
                                 .reasons = reasons,
                                 .apart = true}));
    json_decref(reasons);
}

/* A number that several clients use, or that nobody has: a person decides; a warning sign is never left lying. */
static void take_unclear(Job *job, const Row *row, const GPtrArray *contacts, const char *address,
                         Channel channel)
{
    const char *id = row_text(row, REPLY_ID);
    g_autoptr(Reading) reading = read_text(job, job->clinic->language, row_text(row, REPLY_TEXT));

    put_read(job, id, NULL, NULL, reading, "unread", false,
             contacts->len == 0 ? "from an address that no client has"
                                : "two clients share this address");
    if (contacts->len > 0)
        act_for_each(job, row, contacts, address, channel, reading);
    else if (reading->warning != WARNING_NONE)
        alert_for_stranger(job, id, address, reading);
}

/* A reply whose text lost bytes goes to a person; a warning sign in what is left of it is acted on all the same. */
static void take_damaged(Job *job, const Row *row, Channel channel)
{
    g_autofree char *address = normal_address(job, row_text(row, REPLY_FROM), channel);
    g_autoptr(GPtrArray) contacts =
        find_contacts_by_address(job->tx, address != NULL ? address : "");
    const char *problem = row_text(row, REPLY_PROBLEM);
    const char *text = row_text(row, REPLY_TEXT);
    const char *client = contacts->len == 1 ? row_text(contacts->pdata[0], CONTACT_CLIENT) : NULL;
    g_autoptr(Reading) reading = text != NULL ? read_text(job, job->clinic->language, text) : NULL;

    put_read(job, row_text(row, REPLY_ID), client, NULL, reading, "unread", false,
             problem != NULL ? problem : "it has no text");
    if (reading == NULL) return;
    act_for_each(job, row, contacts, address, channel, reading);
    if (contacts->len == 0 && reading->warning != WARNING_NONE)
        alert_for_stranger(job, row_text(row, REPLY_ID), address, reading);
}

static void read_one(Job *job, const Row *row)
{
    const char *id = row_text(row, REPLY_ID);
    const char *text = row_text(row, REPLY_TEXT);
    Channel channel = CHANNEL_SMS;

    channel_from_name(row_text(row, REPLY_CHANNEL), &channel);
    if (!row_is_null(row, REPLY_PROBLEM) || text == NULL || *text == '\0') {
        take_damaged(job, row, channel);
        return;
    }
    g_autofree char *address = normal_address(job, row_text(row, REPLY_FROM), channel);
    if (address != NULL && duty_by_number(job->clinic, address) != NULL) {
        if (reply_staff_is_barred(job, address, text)) {
            put_read(job, id, NULL, NULL, NULL, "unread", false,
                     "too many wrong codes from this number within an hour: none is compared now");
            return;
        }
        put_read(job, id, NULL, NULL, NULL, "command", false, "from the duty list");
        reply_from_staff(job, id, address, text);
        return;
    }
    g_autoptr(GPtrArray) contacts =
        find_contacts_by_address(job->tx, address != NULL ? address : "");
    if (contacts->len == 1)
        take_reply(job, row, row_text(contacts->pdata[0], CONTACT_CLIENT), address, channel);
    else
        take_unclear(job, row, contacts, address, channel);
}

int reply_read_stored(Job *job, int limit)
{
    g_autoptr(GPtrArray) rows = find_replies(job->tx, NULL, "received", 0);
    int n = MIN((int)rows->len, limit);

    for (int i = 0; i < n; i++)
        read_one(job, rows->pdata[i]);
    return n;
}

void reply_waited(Job *job, const char *id)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_REPLY, id);

    due_drop(job->tx, "unread", id);
    if (row == NULL || g_strcmp0(row_text(row, REPLY_STATE), "unread") != 0) return;
    g_autoptr(Person) person =
        row_is_null(row, REPLY_CLIENT) ? NULL : person_load(job, row_text(row, REPLY_CLIENT));
    json_t *reasons = json_array();
    json_array_append_new(reasons,
                          reason_words("unread for a day", row_text(row, REPLY_WHY), NULL));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "unread",
                                 .class = ALERT_TODAY,
                                 .cause = id,
                                 .reasons = reasons,
                                 .apart = person == NULL}));
    json_decref(reasons);
}
