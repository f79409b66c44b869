/* SPDX-License-Identifier: Apache-2.0 */
/* Messages both ways, and the replies that wait for a person. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/talk/sms.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/control/told_session.h"
#include "daemon/jobs/reply.h"

/* The options client and since. False after answering. */
static bool read_filter(Job *job, Call *call, char **client, int64_t *since_ms)
{
    const char *named = call_text(call, "client");
    const char *since = call_text(call, "since");

    *client = NULL;
    *since_ms = 0;
    if (since != NULL && !instant_parse(since, since_ms))
        return call_fail(call, EXIT_DATA, "since", since,
                         "is no instant; write it as 2026-03-02T08:00:00Z");
    if (named == NULL) return true;
    g_free(call->id[0]);
    call->id[0] = g_strdup(named);
    g_autoptr(Person) person = call_person(job, call);
    *client = person != NULL ? g_strdup(person->id) : NULL;
    return person != NULL;
}

/* The gateway gives receipts and has given none: "awaited", or "late" once it has had time enough. NULL where there is
 * nothing to wait for. */
static const char *receipt_state(const Job *job, const Row *row)
{
    const char *name = row_text(row, MESSAGE_GATEWAY);
    const Gateway *gateway = name != NULL ? clinic_gateway(job->clinic, name) : NULL;

    if (gateway == NULL || gateway->receipts == NULL) return NULL;
    if (strcmp(row_text(row, MESSAGE_FATE), "accepted") != 0) return NULL;
    return job->now_ms - row_int(row, MESSAGE_FATE_AT) > gateway->receipts->within_ms ? "late"
                                                                                      : "awaited";
}

static json_t *settled_json(Job *job, const Row *row)
{
    json_t *document = json_pack(
        "{s:s, s:o, s:o, s:s, s:s, s:s, s:s, s:s, s:o, s:o, s:I, s:o, s:o, s:o}", "message",
        row_text(row, MESSAGE_ID), "at", json_instant(row_int(row, MESSAGE_AT)), "client",
        json_text_or_null(row_text(row, MESSAGE_CLIENT)), "to", row_text(row, MESSAGE_TO),
        "channel", row_text(row, MESSAGE_CHANNEL), "kind", row_text(row, MESSAGE_KIND), "text",
        row_text(row, MESSAGE_TEXT), "fate", row_text(row, MESSAGE_FATE), "fate_at",
        json_instant(row_int(row, MESSAGE_FATE_AT)), "gateway",
        json_text_or_null(row_text(row, MESSAGE_GATEWAY)), "segments",
        (json_int_t)row_int(row, MESSAGE_SEGMENTS), "session",
        json_text_or_null(row_text(row, MESSAGE_SESSION)), "alert",
        json_text_or_null(row_text(row, MESSAGE_FOR_ALERT)), "reason",
        json_text_or_null(row_text(row, MESSAGE_REASON)));

    json_object_set_new(document, "receipt", json_text_or_null(receipt_state(job, row)));
    json_object_set_new(document, "local", json_local(job, row_int(row, MESSAGE_AT)));
    json_object_set_new(document, "fate_local", json_local(job, row_int(row, MESSAGE_FATE_AT)));
    return document;
}

static json_t *waiting_json(Job *job, const Row *row)
{
    bool sms = strcmp(row_text(row, OUTBOX_CHANNEL), "sms") == 0;

    json_t *document = json_pack(
        "{s:s, s:o, s:o, s:s, s:s, s:s, s:s, s:s, s:n, s:o, s:i, s:o, s:o, s:o, s:I, s:o}",
        "message", row_text(row, OUTBOX_ID), "at", json_instant(row_int(row, OUTBOX_AT)), "client",
        json_text_or_null(row_text(row, OUTBOX_CLIENT)), "to", row_text(row, OUTBOX_TO), "channel",
        row_text(row, OUTBOX_CHANNEL), "kind", row_text(row, OUTBOX_KIND), "text",
        row_text(row, OUTBOX_TEXT), "fate", row_text(row, OUTBOX_STATE), "fate_at", "gateway",
        json_text_or_null(row_text(row, OUTBOX_GATEWAY)), "segments",
        sms ? sms_size(row_text(row, OUTBOX_TEXT)).segments : 0, "session",
        json_text_or_null(row_text(row, OUTBOX_SESSION)), "alert",
        json_text_or_null(row_text(row, OUTBOX_ALERT)), "reason",
        json_text_or_null(row_text(row, OUTBOX_REASON)), "attempts",
        (json_int_t)row_int(row, OUTBOX_ATTEMPTS), "next_at",
        json_instant(row_int(row, OUTBOX_NEXT_AT)));

    json_object_set_new(document, "local", json_local(job, row_int(row, OUTBOX_AT)));
    return document;
}

static int by_at(const void *a, const void *b)
{
    const json_t *left = *(json_t *const *)a;
    const json_t *right = *(json_t *const *)b;
    int order = strcmp(json_string_value(json_object_get(left, "at")),
                       json_string_value(json_object_get(right, "at")));

    return order != 0 ? order
                      : strcmp(json_string_value(json_object_get(left, "message")),
                               json_string_value(json_object_get(right, "message")));
}

bool handle_messages(Job *job, Call *call)
{
    g_autofree char *client = NULL;
    int64_t since_ms;

    if (!read_filter(job, call, &client, &since_ms)) return false;
    g_autoptr(GPtrArray) settled = find_messages(job->tx, client, since_ms);
    g_autoptr(GPtrArray) documents = g_ptr_array_new();
    for (guint i = 0; i < settled->len; i++)
        g_ptr_array_add(documents, settled_json(job, settled->pdata[i]));
    g_autoptr(GPtrArray) waiting = find_outbox_of(job->tx, client, since_ms);
    for (guint i = 0; i < waiting->len; i++)
        g_ptr_array_add(documents, waiting_json(job, waiting->pdata[i]));
    if (documents->len > 1)
        qsort(documents->pdata, documents->len, sizeof documents->pdata[0], by_at);
    json_t *list = json_array();
    for (guint i = 0; i < documents->len; i++)
        json_array_append_new(list, documents->pdata[i]);
    return call_ok(call, list);
}

static json_t *reply_json(Job *job, const Row *row)
{
    json_t *document =
        json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o}", "reply",
                  row_text(row, REPLY_ID), "at", json_instant(row_int(row, REPLY_AT)), "arrived",
                  json_instant(row_int(row, REPLY_ARRIVED)), "from",
                  json_text_or_null(row_text(row, REPLY_FROM)), "text",
                  json_text_or_null(row_text(row, REPLY_TEXT)), "reading",
                  json_parsed(row_text(row, REPLY_READING)), "state", row_text(row, REPLY_STATE),
                  "client", json_text_or_null(row_text(row, REPLY_CLIENT)), "session",
                  json_text_or_null(row_text(row, REPLY_SESSION)), "why",
                  json_text_or_null(row_text(row, REPLY_WHY)), "gateway",
                  json_text_or_null(row_text(row, REPLY_GATEWAY)), "gateway_id",
                  json_text_or_null(row_text(row, REPLY_GATEWAY_ID)));

    json_object_set_new(document, "local", json_local(job, row_int(row, REPLY_AT)));
    return document;
}

/* The same with the client's name, for the lists that people go through. */
static json_t *reply_json_named(Job *job, const Row *row)
{
    const char *client = row_text(row, REPLY_CLIENT);
    g_autoptr(Person) person = client != NULL ? person_load(job, client) : NULL;
    json_t *document = reply_json(job, row);

    if (person != NULL) json_object_set_new(document, "name", json_text_or_null(person->name));
    return document;
}

static bool answer_replies(Job *job, Call *call, const GPtrArray *rows)
{
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, reply_json(job, rows->pdata[i]));
    return call_ok(call, list);
}

bool handle_replies(Job *job, Call *call)
{
    g_autofree char *client = NULL;
    int64_t since_ms;

    if (!read_filter(job, call, &client, &since_ms)) return false;
    g_autoptr(GPtrArray) rows = find_replies(job->tx, client, NULL, since_ms);
    return answer_replies(job, call, rows);
}

/* The clients with the address that a reply came from: one of them wrote it. */
static json_t *candidates(Job *job, const Row *reply)
{
    const char *from = row_text(reply, REPLY_FROM);
    g_autoptr(GPtrArray) same = find_contacts_by_address(job->tx, from != NULL ? from : "");
    json_t *list = json_array();

    for (guint i = 0; i < same->len; i++) {
        g_autoptr(Person) person = person_load(job, row_text(same->pdata[i], CONTACT_CLIENT));
        if (person != NULL)
            json_array_append_new(
                list, json_pack("{s:s, s:s}", "client", person->id, "name", person->name));
    }
    return list;
}

/* The command that is likely to settle it, or null (new reference). */
static json_t *suggests(const Row *reply)
{
    Channel channel = CHANNEL_SMS;
    json_t *reading = json_parsed(row_text(reply, REPLY_READING));

    channel_from_name(row_text(reply, REPLY_CHANNEL), &channel);
    g_autofree char *command = reply_suggests(row_text(reply, REPLY_CLIENT), reading, channel);
    json_decref(reading);
    return json_text_or_null(command);
}

bool handle_unread(Job *job, Call *call)
{
    g_autoptr(GPtrArray) rows = find_replies(job->tx, NULL, "unread", 0);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++) {
        json_t *document = reply_json_named(job, rows->pdata[i]);
        json_object_set_new(document, "candidates", candidates(job, rows->pdata[i]));
        json_object_set_new(document, "suggests", suggests(rows->pdata[i]));
        json_array_append_new(list, document);
    }
    return call_ok(call, list);
}

bool handle_glance(Job *job, Call *call)
{
    g_autoptr(GPtrArray) rows = find_glance(job->tx);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, reply_json_named(job, rows->pdata[i]));
    return call_ok(call, list);
}

/* What osier missed in the words, as a person says, in *missed; NULL where it missed nothing. False after answering. */
static bool read_missed(Call *call, const char **missed)
{
    static const char *const WHATS[] = {"sign", "stop", "number", "other", NULL};

    *missed = call_text(call, "missed");
    if (*missed == NULL || g_strv_contains(WHATS, *missed)) return true;
    return call_fail(call, EXIT_DATA, "missed", *missed,
                     "must be one of sign, stop, number, other");
}

/* A reading that somebody stands by, with what was missed in it, which the digest counts. */
static json_t *with_missed(json_t *reading, const char *missed)
{
    if (missed == NULL) return reading;
    if (!json_is_object(reading)) {
        json_decref(reading);
        reading = json_object();
    }
    json_object_set_new(reading, "missed", json_string(missed));
    return reading;
}

bool handle_glance_seen(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME"), *missed;
    g_autofree char *id = by != NULL ? call_id(job, call, TABLE_REPLY, "reply", call->id[0]) : NULL;

    if (id == NULL || !read_missed(call, &missed)) return false;
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_REPLY, id);
    if (row == NULL) return call_lost(job);
    call->about = g_strdup(row_text(row, REPLY_CLIENT));
    tx_append(job->tx, "reply.seen", id, by, NULL, json_pack("{s:s}", "by", by));
    if (missed != NULL && strcmp(row_text(row, REPLY_STATE), "unread") != 0)
        tx_append(job->tx, "reply.settled", id, by, NULL,
                  json_pack("{s:s, s:o, s:s?, s:s?}", "by", by, "reading",
                            with_missed(json_parsed(row_text(row, REPLY_READING)), missed),
                            "client", row_text(row, REPLY_CLIENT), "session",
                            row_text(row, REPLY_SESSION)));
    return call_ok(call,
                   json_pack("{s:s, s:s, s:s?}", "reply", id, "seen_by", by, "missed", missed));
}

/* What a person says that the reply means; DONE_UNSAID and the like where nothing was given. False
 * after answering. */
static bool read_settlement(Call *call, Reading *reading, bool *some)
{
    static const char *const DONE[] = {
        [DONE_YES] = "yes", [DONE_PARTLY] = "partly", [DONE_NO] = "no"};
    const char *done = call_text(call, "done");
    bool has_intensity;
    bool has_pain = true;

    for (ReadDone i = DONE_YES; done != NULL && i <= DONE_NO; i++)
        if (strcmp(done, DONE[i]) == 0) reading->done = i;
    if (done != NULL && reading->done == DONE_UNSAID)
        return call_fail(call, EXIT_USE, "done", done, "must be one of yes, partly, no");
    if (!call_number(call, "intensity", 0, 10, &reading->intensity, &has_intensity)) return false;
    if (!has_intensity) reading->intensity = -1;
    if (g_strcmp0(call_text(call, "pain"), "some") == 0)
        reading->pain_kind = PAIN_SOME;
    else if (!call_number(call, "pain", 0, 10, &reading->pain, &has_pain))
        return false;
    else if (has_pain)
        reading->pain_kind = PAIN_NUMBER;
    *some = done != NULL || has_intensity || reading->pain_kind != PAIN_UNSAID;
    return true;
}

/* Whose reply it is: as a person says (the field client), else as osier found out. NULL with *good
 * false after answering; NULL with *good true where nobody knows. */
static Person *settled_person(Job *job, Call *call, const Row *reply, bool *good)
{
    const char *named = call_text(call, "client");
    char *reply_id = call->id[0];

    *good = true;
    if (named == NULL)
        return row_is_null(reply, REPLY_CLIENT) ? NULL
                                                : person_load(job, row_text(reply, REPLY_CLIENT));
    call->id[0] = (char *)named;
    Person *person = call_person(job, call);
    call->id[0] = reply_id;
    *good = person != NULL;
    return person;
}

/* The session that it answers, in about: as the person says (the fields session, or date and slot), else as osier found out, else
 * the client's last one asked in the day and a half before; NULL where there is none. False after answering. */
static bool settled_session(Job *job, Call *call, const Person *person, const Row *reply,
                            SessionInstant *instant, ReplyCase *about)
{
    bool same = g_strcmp0(person->id, row_text(reply, REPLY_CLIENT)) == 0;
    int64_t at_ms = row_int(reply, REPLY_AT);
    bool planned;

    if (call_text(call, "session") != NULL || call_text(call, "date") != NULL) {
        about->session = told_session(job, call, person, instant, &planned);
        if (about->session != NULL && planned) about->instant = instant;
        return about->session != NULL;
    }
    if (same && !row_is_null(reply, REPLY_SESSION)) {
        about->session = g_strdup(row_text(reply, REPLY_SESSION));
        return true;
    }
    g_autoptr(Row) asked = find_asked(job->tx, person->id, at_ms);
    if (asked != NULL && row_int(asked, SESSION_ASKED_AT) >= at_ms - 36 * HOUR_MS)
        about->session = g_strdup(row_text(asked, SESSION_ID));
    return true;
}

/* What is said of a session can only be counted where client and session are known. */
static bool can_count(Call *call, const Person *person, const ReplyCase *about)
{
    if (person == NULL)
        return call_fail(call, EXIT_DATA, "unread", call->id[0],
                         "nobody is known to have written it; say who did with --client");
    if (about->session == NULL)
        return call_fail(call, EXIT_DATA, "unread", call->id[0],
                         "answers no session that was asked; say which with --date 2026-03-02 or "
                         "--session S");
    return true;
}

/* Whom it suspended would stay so, with nothing left that tells of it. False after answering. */
static bool suspends_nobody(Job *job, Call *call, const char *reply)
{
    g_autoptr(GPtrArray) bars = find_bars_of_cause(job->tx, "suspend", reply);

    if (bars->len == 0) return true;
    return call_fail(call, EXIT_DATA, "unread", call->id[0],
                     "suspended each who has that address; say whose it is with --client, or "
                     "osier client resume them first");
}

bool handle_unread_settle(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME");
    g_autofree char *id = by != NULL ? call_id(job, call, TABLE_REPLY, "reply", call->id[0]) : NULL;
    g_autoptr(Reading) reading = g_new0(Reading, 1);
    bool some = false;

    const char *missed;
    if (id == NULL || !read_settlement(call, reading, &some) || !read_missed(call, &missed))
        return false;
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_REPLY, id);
    if (row == NULL) return call_lost(job);
    call->about = g_strdup(row_text(row, REPLY_CLIENT));
    bool known;
    g_autoptr(Person) person = settled_person(job, call, row, &known);
    if (!known) return false;
    if (person == NULL && !suspends_nobody(job, call, id)) return false;
    SessionInstant instant;
    ReplyCase about = {.reply = id, .by = by};
    if (person != NULL) about.channel = person->channel;
    if (person != NULL && !settled_session(job, call, person, row, &instant, &about)) return false;
    g_autofree char *session = (char *)about.session;
    if (some && !can_count(call, person, &about)) return false;
    json_t *meant = some             ? reading_json(reading)
                    : missed != NULL ? json_parsed(row_text(row, REPLY_READING))
                                     : json_null();
    tx_append(job->tx, "reply.settled", id, by, NULL,
              json_pack("{s:s, s:o, s:s?, s:s?}", "by", by, "reading", with_missed(meant, missed),
                        "client", person != NULL ? person->id : NULL, "session", session));
    due_drop(job->tx, "unread", id);
    if (person != NULL) reply_lift_all(job, id, by);
    if (some) reply_act(job, person, reading, &about);
    return call_ok(call,
                   json_pack("{s:s, s:s, s:b}", "reply", id, "settled_by", by, "counted", some));
}
