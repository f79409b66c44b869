/* SPDX-License-Identifier: Apache-2.0 */
/* The rules on a message whose bytes leave. */
#include <string.h>

#include "core/ledger/id.h"
#include "tests/sim/local.h"
#include "tests/sim/oracle_inside.h"
#include "tests/sim/phrases.h"

static bool is_kind(const Sent *sent, const char *const *kinds)
{
    return g_strv_contains(kinds, sent->kind);
}

static const char *const STARTED[] = {"reminder", "nudge", "checkin", "welcome", NULL};
static const char *const OF_SESSIONS[] = {"reminder", "nudge", "checkin", "question", NULL};
static const char *const EXEMPT[] = {"stopped", "help", "safety", NULL};

static bool is(const Sent *sent, const char *kind)
{
    return strcmp(sent->kind, kind) == 0;
}

static void broken(Oracle *oracle, const char *rule, const Sent *sent, const char *why)
{
    trace_break(oracle->trace, rule, "%s %.8s to client %s: %s", sent->kind, sent->id,
                sent->client != NULL ? sent->client : "none", why);
}

/* "A row before a call": the message is marked writing before its first byte. */
static void a_row_before_a_call(Oracle *oracle, const Sent *sent)
{
    if (g_strcmp0(sent->state, "writing") != 0)
        broken(oracle, "a row before a call", sent, sent->state);
}

/* "Quiet hours and the daily cap (4) bind what osier starts": 21:00-08:00 on the client's clock. The
 * last gate is the claim. */
static void nobody_is_written_to_at_night(Oracle *oracle, const Sent *sent,
                                          const ModelClient *client)
{
    int minute = local_minute(client->zone, sent->claimed_ms, NULL);

    if (is_kind(sent, STARTED) && (minute >= 21 * 60 || minute < 8 * 60))
        broken(oracle, "nobody is written to at night", sent, "it is in the client's quiet hours");
}

/* "A reminder has an end: past it, it lapses"; "libcurl's pre-request callback checks the end once
 * more just before the first byte". */
static void nothing_leaves_after_its_end(Oracle *oracle, const Sent *sent)
{
    int64_t now = sim_now(oracle->clinic);

    if (sent->end_ms != 0 && now > sent->end_ms)
        broken(oracle, "nothing leaves after its end", sent, "its end has passed");
    if ((is(sent, "reminder") || is(sent, "nudge")) && sent->end_ms == 0)
        broken(oracle, "nothing leaves after its end", sent, "it has no end");
}

/* "Someone opted out/held/paused" is not written to; "no stretching reminders until a clinician
 * lifts" the hold; suspending words stop messages at once. A bar set before the claim counts. */
static void nobody_barred_is_written_to(Oracle *oracle, const Sent *sent, const ModelClient *client)
{
    static const char *const BARS[] = {"pause", "hold", "end"};
    int64_t at = sent->claimed_ms;

    if (!is_kind(sent, EXEMPT) && model_bar(client, "stop", at) != NULL)
        broken(oracle, "nobody barred is written to", sent, "the client has stopped");
    if ((is_kind(sent, STARTED) || is_kind(sent, OF_SESSIONS)) &&
        model_bar(client, "suspend", at) != NULL)
        broken(oracle, "nobody barred is written to", sent, "messages are suspended");
    for (size_t i = 0; is_kind(sent, OF_SESSIONS) && i < G_N_ELEMENTS(BARS); i++)
        if (model_bar(client, BARS[i], at) != NULL)
            broken(oracle, "nobody barred is written to", sent, BARS[i]);
}

/* "Words of a death end everything without any automatic answer": nothing that answers such a reply leaves. */
static void a_death_is_answered_by_nothing(Oracle *oracle, const Sent *sent)
{
    static const char *const ANSWERS[] = {"stopped", "help", "started", "safety", "stretch"};
    GHashTableIter iter;
    void *value;

    if (!is_kind(sent, EXEMPT) && !is(sent, "answer")) return;
    g_hash_table_iter_init(&iter, oracle->model->replies);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelReply *reply = value;
        const Phrase *phrase = reply->text != NULL ? phrase_of(reply->text) : NULL;
        if (phrase == NULL || (phrase->says != SAYS_DEATH && phrase->says != SAYS_WRONG)) continue;
        for (size_t i = 0; i < G_N_ELEMENTS(ANSWERS); i++) {
            g_autofree char *purpose = g_strdup_printf("%s/%s", ANSWERS[i], reply->id);
            g_autofree char *id = id_message(purpose);
            if (strcmp(id, sent->id) == 0)
                broken(oracle, "a death is answered by nothing", sent, reply->text);
        }
    }
}

/* "Consent is recorded for each channel, with who took it and when, before any message." */
static void nobody_without_consent_is_written_to(Oracle *oracle, const Sent *sent,
                                                 const ModelClient *client, bool mail)
{
    int64_t consent = client->consent_ms[mail ? 1 : 0];

    if (!is_kind(sent, EXEMPT) && (consent == 0 || consent > sent->claimed_ms))
        broken(oracle, "nobody without consent is written to", sent, "no consent is recorded");
}

/* "The daily cap (4) binds what osier starts", in the client's own day, by the zone that the client is in now. Of what a gateway
 * turned away the client saw nothing. */
static void no_more_than_the_daily_cap(Oracle *oracle, const Sent *sent, const ModelClient *client)
{
    g_autofree char *today = NULL;
    GHashTableIter iter;
    void *at_ms;
    int n = 0;

    if (!is_kind(sent, STARTED)) return;
    GHashTable *ids = g_hash_table_lookup(oracle->started, client->id);
    if (ids == NULL) {
        ids = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
        g_hash_table_insert(oracle->started, g_strdup(client->id), ids);
    }
    g_hash_table_insert(ids, g_strdup(sent->id),
                        g_memdup2(&sent->claimed_ms, sizeof sent->claimed_ms));
    local_minute(client->zone, sent->claimed_ms, &today);
    g_hash_table_iter_init(&iter, ids);
    while (g_hash_table_iter_next(&iter, NULL, &at_ms)) {
        g_autofree char *date = NULL;
        local_minute(client->zone, *(int64_t *)at_ms, &date);
        n += strcmp(date, today) == 0;
    }
    if (n > PER_DAY) broken(oracle, "no more than the daily cap", sent, "the fifth of that day");
}

/* One message for each thing it is for. */
static void only_one_of(Oracle *oracle, const Sent *sent, const char *rule, const char *what)
{
    g_autofree char *key = g_strdup_printf("%s %s", sent->kind, what);
    const char *before = g_hash_table_lookup(oracle->once, key);

    if (before == NULL)
        g_hash_table_insert(oracle->once, g_strdup(key), g_strdup(sent->id));
    else if (strcmp(before, sent->id) != 0)
        broken(oracle, rule, sent, "there was another");
}

/* "A slot once asked is never asked again that date"; "one nudge". */
static void a_session_is_asked_and_nudged_once(Oracle *oracle, const Sent *sent)
{
    if ((is(sent, "reminder") || is(sent, "nudge")) && sent->session != NULL)
        only_one_of(oracle, sent, "a session is asked and nudged once", sent->session);
}

/* Nothing is repeated "beyond the messages that were writing at the kill, and none at a gateway that
 * takes the key"; for a reminder a second copy is a harm too, so what may have gone is not repeated
 * without a key. */
static void nothing_is_sent_twice(Oracle *oracle, const Sent *sent, const Written *written)
{
    ModelMessage *message = model_message(oracle->model, sent->id);
    bool keyed = oracle->takes_key && !written->mail;
    bool is_urgent = is(sent, "alert") || is(sent, "safety");

    if (message->fate != NULL)
        broken(oracle, "nothing is sent twice", sent, "its fate is settled already");
    if (!keyed && message->taken && !is_urgent)
        broken(oracle, "nothing is sent twice", sent, "it may have gone out before");
    if (!keyed && is_urgent && message->agreed && !message->crashed)
        broken(oracle, "nothing is sent twice", sent, "it was accepted before");
    message->writes++;
    message->taken =
        message->taken || written->made == MADE_ACCEPTED || written->made == MADE_UNSURE;
    message->agreed = message->agreed || written->made == MADE_ACCEPTED;
    if (message->kind == NULL) message->kind = g_strdup(sent->kind);
    if (message->client == NULL) message->client = g_strdup(sent->client);
    if (message->alert == NULL) message->alert = g_strdup(sent->alert);
}

/* The reminder "asks for a session" of the plan, at the client's own local time (RFC 5545 3.3.5),
 * from its time to its end: "forwards sends no burst". */
static void only_the_plan_asks(Oracle *oracle, const Sent *sent)
{
    const ModelSession *session =
        sent->session != NULL ? g_hash_table_lookup(oracle->model->sessions, sent->session) : NULL;
    int64_t now = sim_now(oracle->clinic);
    bool nudge = is(sent, "nudge");

    if (!nudge && !is(sent, "reminder")) return;
    if (session == NULL || session->asked_ms == 0) {
        broken(oracle, "only the plan asks", sent, "no session was asked");
        return;
    }
    int64_t from = session->utc_ms + (nudge ? NUDGE_AFTER : 0);
    int64_t to = session->utc_ms + (nudge ? SILENT_AFTER : ENDS);
    /* Once it was time, it may be tried again after the clock was set back. */
    bool first = model_message(oracle->model, sent->id)->writes == 0;
    if ((first && sent->claimed_ms < from) || now > to)
        broken(oracle, "only the plan asks", sent, "not at its time");
    if (oracle_epoch(oracle, sent->client, session->date, session->slot, session->utc_ms) == NULL)
        broken(oracle, "only the plan asks", sent, "the plan has no such session");
}

/* Someone who stopped "gets one safety text" for that stop. */
static void one_safety_text_for_a_stop(Oracle *oracle, const Sent *sent, const ModelClient *client)
{
    const ModelBar *stop = model_bar(client, "stop", sent->claimed_ms);

    if (is(sent, "safety") && stop != NULL && strstr(sent->text, "the only one") != NULL)
        only_one_of(oracle, sent, "one safety text for a stop", stop->id);
}

/* "'We have told your clinic' is said only once an alert was accepted." */
static void told_only_after_an_alert_was_accepted(Oracle *oracle, const Sent *sent)
{
    const ModelAlert *alert =
        sent->alert != NULL ? g_hash_table_lookup(oracle->model->alerts, sent->alert) : NULL;

    if (strstr(sent->text, "We have told your clinic") == NULL) return;
    if (alert == NULL || !alert->accepted)
        broken(oracle, "told only after an alert was accepted", sent, "no alert was accepted");
}

/* A client's text goes to that client and holds no surname; an alert goes to the clinic's people and
 * holds "initials and code". */
static void a_text_is_for_whom_it_is_for(Oracle *oracle, const Sent *sent, const Written *written,
                                         const ModelClient *client)
{
    static const char *const STAFF[] = {SIM_OKAFOR, SIM_LINDQVIST, "rok@clinic.example",
                                        "desk@clinic.example", NULL};

    if (sent->to_client && g_strcmp0(written->to, written->mail ? client->email : client->phone))
        broken(oracle, "a text is for whom it is for", sent, "another address");
    if (!sent->to_client && !g_strv_contains(STAFF, written->to))
        broken(oracle, "a text is for whom it is for", sent, "not of the clinic's people");
    if (client == NULL || client->name == NULL || is(sent, "digest")) return;
    g_auto(GStrv) names = g_strsplit(client->name, " ", 2);
    if (names[0] != NULL && names[1] != NULL && strstr(sent->text, names[1]) != NULL)
        broken(oracle, "a text is for whom it is for", sent, "it holds the surname");
    if (is(sent, "alert") && strstr(sent->text, names[0]) != NULL)
        broken(oracle, "a text is for whom it is for", sent, "it holds the name");
}

/* Remembers the code that an alert gave to a number. */
static void note_code(Oracle *oracle, const Sent *sent, const Written *written)
{
    const char *take = strstr(sent->text, "TAKE ");

    if (!is(sent, "alert") || take == NULL || !written->delivered) return;
    g_hash_table_add(oracle->codes, g_strdup_printf("%s %.4s %s", written->to,
                                                    take + strlen("TAKE "), sent->alert));
}

static void note_accepted(Oracle *oracle, const Sent *sent, const Written *written)
{
    ModelAlert *alert =
        sent->alert != NULL ? g_hash_table_lookup(oracle->model->alerts, sent->alert) : NULL;

    if (alert != NULL && is(sent, "alert") && written->made == MADE_ACCEPTED)
        alert->accepted = true;
}

void oracle_judge_sent(Oracle *oracle, const Sent *sent, const Written *written)
{
    const ModelClient *client = model_client(oracle->model, sent->client);

    a_row_before_a_call(oracle, sent);
    nothing_leaves_after_its_end(oracle, sent);
    a_session_is_asked_and_nudged_once(oracle, sent);
    only_the_plan_asks(oracle, sent);
    nothing_is_sent_twice(oracle, sent, written);
    told_only_after_an_alert_was_accepted(oracle, sent);
    a_text_is_for_whom_it_is_for(oracle, sent, written, client);
    if (sent->to_client) {
        nobody_is_written_to_at_night(oracle, sent, client);
        nobody_barred_is_written_to(oracle, sent, client);
        a_death_is_answered_by_nothing(oracle, sent);
        nobody_without_consent_is_written_to(oracle, sent, client, written->mail);
        if (written->delivered) no_more_than_the_daily_cap(oracle, sent, client);
        one_safety_text_for_a_stop(oracle, sent, client);
    }
    oracle_judge_letter(oracle, sent, written);
    note_code(oracle, sent, written);
    note_accepted(oracle, sent, written);
}
