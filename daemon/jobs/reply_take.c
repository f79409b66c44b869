/* SPDX-License-Identifier: Apache-2.0 */
/* What was kept is read: whose it is, which session it answers, what it amounts to; what nobody settles is told. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/checkin.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/reply_sender.h"

#define LATE_MS (2 * HOUR_MS)
#define BEFORE_ARRIVAL_MS (48 * HOUR_MS)
#define AFTER_ARRIVAL_MS (5 * MINUTE_MS)
#define ANSWERS_WITHIN_MS (36 * HOUR_MS)

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

static bool is_asked_lately(const Row *session, int64_t at_ms)
{
    return session != NULL && !row_is_null(session, SESSION_ASKED_AT) &&
           row_int(session, SESSION_ASKED_AT) <= at_ms &&
           row_int(session, SESSION_ASKED_AT) >= at_ms - ANSWERS_WITHIN_MS;
}

/* The session that a reply answers, within a day and a half: the one that the mail it answers asked for, else the one asked
 * last before it was said. Who always answers the same old mail means the latest. */
static char *answered_session(Job *job, const char *client, const char *named, int64_t at_ms)
{
    g_autoptr(Row) row = named != NULL ? tx_get_text(job->tx, TABLE_SESSION, named) : NULL;

    if (is_asked_lately(row, at_ms)) return g_strdup(named);
    g_autoptr(Row) asked = find_asked(job->tx, client, at_ms);
    return is_asked_lately(asked, at_ms) ? g_strdup(row_text(asked, SESSION_ID)) : NULL;
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

/* What keeps a START from being all that is needed, or NULL. */
static const char *start_barred(const Person *person, const ReplySender *sender)
{
    if (!sender->known) return "START, but not from the client's own address";
    if (person->ended) return "START, but the client has ended";
    if (person->suspended) return "START, but messages are suspended until a person settles it";
    if (person->held) return "START, but the client is on hold";
    if (person->paused) return "START, but the client is on a pause";
    return NULL;
}

/* What is not the client's to say any more: words of a death or of a wrong number, and all that comes until they are settled. */
static const char *elsewhere_reason(const Person *person, const Reading *reading)
{
    if (reading->death) return "words of a death: nothing is answered, and messages are suspended";
    if (reading->wrong_number)
        return "somebody else may have this address: nothing is sent to it, nor answered";
    if (reply_is_elsewhere(person))
        return "words of a death or of a wrong number are not settled: nothing is answered";
    return NULL;
}

/* Why a person must look, or NULL where the reading suffices. */
static const char *person_reason(const Person *person, const ReplySender *sender,
                                 const Reading *reading, const char *session)
{
    const char *elsewhere = elsewhere_reason(person, reading);

    if (elsewhere != NULL) return elsewhere;
    if (reading->suspend) return "words of a hospital or an illness: messages are suspended";
    if (reading->warning != WARNING_NONE) return "a warning sign: see the alert";
    if (reading->person && !checkin_only(reading)) return "osier is not sure of this one";
    if (reading->command == COMMAND_START) return start_barred(person, sender);
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

/* Words back go to where it came from; where that is no client's address, to the client's own. */
static const char *answer_to(const Person *person, const ReplySender *sender, Channel channel)
{
    bool own = !sender->known && channel != CHANNEL_PHONE && person->address[channel] != NULL;

    return own ? NULL : sender->address;
}

/* One client's reply, from the raw row to what follows. */
static void take_reply(Job *job, const Row *row, const ReplySender *sender, Channel channel)
{
    const char *client = sender->clients->pdata[0];
    const char *id = row_text(row, REPLY_ID);
    const char *text = sender->text != NULL ? sender->text : row_text(row, REPLY_TEXT);
    g_autoptr(Person) person = person_load(job, client);
    g_assert(person != NULL || tx_is_lost(job->tx));
    if (person == NULL) return;
    int64_t at_ms = job->made_up ? row_int(row, REPLY_ARRIVED) : said_at(row);
    g_autofree char *session = answered_session(job, client, sender->session, at_ms);
    const char *unsure;
    g_autoptr(Reading) reading = checkin_read(job, person, text, session, at_ms, &unsure);
    if (checkin_only(reading)) g_clear_pointer(&session, g_free);
    const char *why = unsure != NULL ? unsure : person_reason(person, sender, reading, session);
    const char *state = why != NULL                        ? "unread"
                        : reading->command != COMMAND_NONE ? "command"
                                                           : "read";

    put_read(job, id, client, session, reading, state, why == NULL && wants_glance(reading), why);
    reply_bar(job, person, reading, id, channel);
    checkin_record(job, person, reading, id, "client");
    if (unsure != NULL && !is_grave(reading)) return;
    ReplyCase about = {.reply = id,
                       .session = session,
                       .channel = channel,
                       .from = answer_to(person, sender, channel),
                       .by = "client",
                       .late = is_late(row),
                       .bare = is_bare_number(text) || is_number_alone(reading),
                       .stranger = !sender->known,
                       .back = reply_back(person, reading)};
    if (reading->command != COMMAND_NONE) reply_command(job, person, reading, &about);
    reply_act(job, person, reading, &about);
}

/* A sign, pain or a stop that is not surely one client's is acted on for each who may have written. */
static void act_for_each(Job *job, const Row *row, const ReplySender *sender, Channel channel,
                         const Reading *reading)
{
    ReplyCase about = {.reply = row_text(row, REPLY_ID),
                       .channel = channel,
                       .by = "client",
                       .late = is_late(row),
                       .anyones = sender->clients->len > 1};

    for (guint i = 0; i < sender->clients->len; i++) {
        g_autoptr(Person) person = person_load(job, sender->clients->pdata[i]);
        if (person == NULL) continue;
        about.from = answer_to(person, sender, channel);
        about.back = reply_back(person, reading);
        reply_bar(job, person, reading, about.reply, channel);
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

/* The one who may have written it, or NULL. */
static const char *only_client(const ReplySender *sender)
{
    return sender->clients->len == 1 ? sender->clients->pdata[0] : NULL;
}

/* Who shares an address with one of the family may tell of the other: their sign is a client's. Not of whoever died. */
static void take_kin(Reading *reading)
{
    if (reading->warning != WARNING_NONE || reading->kin_warning == WARNING_NONE || reading->death)
        return;
    reading->warning = reading->kin_warning;
    reading->from_warning = g_steal_pointer(&reading->from_kin_warning);
}

/* A stop is one behind a letter as well. */
static Reading *read_unclear(Job *job, const char *text, const ReplySender *sender)
{
    Reading *whole = read_text(job, job->clinic->language, text);
    if (sender->shared) take_kin(whole);
    g_autoptr(Reading) rest =
        sender->text != NULL ? read_text(job, job->clinic->language, sender->text) : NULL;

    if (rest == NULL || rest->command != COMMAND_STOP) return whole;
    reading_free(whole);
    return g_steal_pointer(&rest);
}

/* From an address that several clients use, without the letter of one, or that nobody has: a person decides; a warning sign is
 * never left lying. */
static void take_unclear(Job *job, const Row *row, const ReplySender *sender, Channel channel)
{
    const char *id = row_text(row, REPLY_ID);
    g_autoptr(Reading) reading = read_unclear(job, row_text(row, REPLY_TEXT), sender);

    put_read(job, id, NULL, NULL, reading, "unread", false,
             sender->clients->len == 0 ? "from an address that no client has"
             : !sender->shared         ? "an answer to one client's mail from another's address"
             : channel == CHANNEL_SMS
                 ? "two clients share this phone, and no letter says whose answer it is"
                 : "two clients share this address");
    if (sender->clients->len > 0)
        act_for_each(job, row, sender, channel, reading);
    else if (reading->warning != WARNING_NONE)
        alert_for_stranger(job, id, sender->address, reading);
}

/* A reply whose text lost bytes goes to a person; a warning sign in what is left of it is acted on all the same. */
static void take_damaged(Job *job, const Row *row, const ReplySender *sender, Channel channel)
{
    const char *problem = row_text(row, REPLY_PROBLEM);
    const char *text = row_text(row, REPLY_TEXT);
    g_autoptr(Reading) reading = text != NULL ? read_text(job, job->clinic->language, text) : NULL;

    put_read(job, row_text(row, REPLY_ID), only_client(sender), NULL, reading, "unread", false,
             problem != NULL ? problem : "it has no text");
    if (reading == NULL) return;
    act_for_each(job, row, sender, channel, reading);
    if (sender->clients->len == 0 && reading->warning != WARNING_NONE)
        alert_for_stranger(job, row_text(row, REPLY_ID), sender->address, reading);
}

static void alert_for_automatic(Job *job, const Person *person, const char *reply,
                                const Reading *reading)
{
    const char *sign = read_warning_name(reading->warning);
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_words("warning", sign, reading->from_warning));
    json_array_append_new(reasons, reason_words("automatic answer", "by mail", NULL));
    g_free(alert_open(job, person,
                      &(Opening){.kind = sign,
                                 .class = warning_class(reading->warning),
                                 .cause = reply,
                                 .reasons = reasons}));
    json_decref(reasons);
}

/* A mail that no person wrote is no answer, and gets none, or two programs would write to each other for ever (RFC 3834). A
 * person sees it once; a sign in a client's own is told to a clinician, and words of illness suspend messages. */
static void take_automatic(Job *job, const Row *row, const ReplySender *sender)
{
    const char *id = row_text(row, REPLY_ID), *text = row_text(row, REPLY_TEXT);
    const char *client = only_client(sender);
    g_autoptr(Reading) reading =
        sender->known && text != NULL ? read_text(job, job->clinic->language, text) : NULL;
    bool grave = reading != NULL && (reading->warning != WARNING_NONE || reading->suspend);

    put_read(job, id, client, NULL, NULL, grave ? "unread" : "read", !grave,
             "an automatic answer: not read as the client's");
    for (guint i = 0; grave && i < sender->clients->len; i++) {
        g_autoptr(Person) person = person_load(job, sender->clients->pdata[i]);
        if (person == NULL) continue;
        reply_bar(job, person, reading, id, CHANNEL_EMAIL);
        if (reading->warning != WARNING_NONE) alert_for_automatic(job, person, id, reading);
    }
}

/* By text an alert is taken with a code; by mail it cannot be, and what is written is seen once. */
static void take_staff(Job *job, const Row *row, const ReplySender *sender, Channel channel)
{
    const char *id = row_text(row, REPLY_ID);
    bool mail = channel == CHANNEL_EMAIL;

    if (!mail && reply_staff_is_barred(job, sender->address, row_text(row, REPLY_TEXT))) {
        put_read(job, id, NULL, NULL, NULL, "unread", false,
                 "too many wrong codes from this number within an hour: none is compared now");
        return;
    }
    put_read(job, id, NULL, NULL, NULL, "command", mail,
             mail ? "from the clinic's own people: by mail no alert is taken"
                  : "from the duty list");
    if (mail) return;
    const char *text = row_text(row, REPLY_TEXT);
    g_autoptr(Reading) reading = read_text(job, job->clinic->language, text);
    reply_from_staff(job, id, sender->address, text, reading->denies);
}

static void read_one(Job *job, const Row *row)
{
    const char *text = row_text(row, REPLY_TEXT);
    Channel channel = CHANNEL_SMS;
    g_auto(ReplySender) sender = {0};

    channel_from_name(row_text(row, REPLY_CHANNEL), &channel);
    reply_sender_find(job, row, channel, &sender);
    bool damaged = !row_is_null(row, REPLY_PROBLEM) || text == NULL || *text == '\0';
    bool staff = reply_is_from_staff(job->clinic, sender.address, channel);
    if (row_int(row, REPLY_AUTOMATIC) != 0)
        take_automatic(job, row, &sender);
    else if (staff && (channel == CHANNEL_EMAIL || !damaged))
        take_staff(job, row, &sender, channel);
    else if (damaged)
        take_damaged(job, row, &sender, channel);
    else if (sender.clients->len == 1)
        take_reply(job, row, &sender, channel);
    else
        take_unclear(job, row, &sender, channel);
}

int reply_read_stored(Job *job, int limit)
{
    g_autoptr(GPtrArray) rows = find_received(job->tx, limit);

    for (guint i = 0; i < rows->len; i++)
        read_one(job, rows->pdata[i]);
    return (int)rows->len;
}

/* Whether an alert that the reply itself opened waits still: whoever takes that one has read the reply. One for the digest is
 * taken by nobody. */
static bool is_called_about(Job *job, const Row *reply)
{
    g_autoptr(GPtrArray) open = find_alerts(job->tx, NULL, false);

    for (guint i = 0; i < open->len; i++)
        if (g_strcmp0(row_text(open->pdata[i], ALERT_CAUSE), row_text(reply, REPLY_ID)) == 0 &&
            strcmp(row_text(open->pdata[i], ALERT_CLASS), "digest") != 0)
            return true;
    return false;
}

void reply_waited(Job *job, const char *id)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_REPLY, id);

    due_drop(job->tx, "unread", id);
    if (row == NULL || g_strcmp0(row_text(row, REPLY_STATE), "unread") != 0) return;
    if (is_called_about(job, row)) {
        due_set(job->tx, "unread", id, job->now_ms + DAY_MS, NULL, NULL);
        return;
    }
    g_autoptr(Person) person =
        row_is_null(row, REPLY_CLIENT) ? NULL : person_load(job, row_text(row, REPLY_CLIENT));
    json_t *reasons = json_array();
    bool mail = g_strcmp0(row_text(row, REPLY_CHANNEL), channel_name(CHANNEL_EMAIL)) == 0;
    json_array_append_new(reasons,
                          reason_words("unread for a day", row_text(row, REPLY_WHY), NULL));
    g_free(alert_open(
        job, person,
        &(Opening){.kind = "unread",
                   .class = ALERT_TODAY,
                   .cause = id,
                   .reasons = reasons,
                   /* Whoever finds the mailbox can write to it: strangers' mails are one matter. */
                   .apart = person == NULL && !mail}));
    json_decref(reasons);
}
