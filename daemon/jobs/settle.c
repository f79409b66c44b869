/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/settle.h"
#include "core/clinic/route.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_route.h"
#include "adapters/store/find_work.h"
#include "core/clinic/repeat.h"
#include "core/talk/sms.h"
#include "daemon/jobs/ahead.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/replanned.h"
#include "daemon/jobs/words.h"

#define BACKOFF_FIRST_MS (30 * SECOND_MS)
#define GIVE_UP_MS (5 * DAY_MS) /* RFC 5321 4.5.4.1: give up after four to five days */

int64_t settle_backoff(const char *message, int attempts, int64_t most_ms)
{
    int64_t span = BACKOFF_FIRST_MS;
    guint32 share = g_str_hash(message) * 2654435761u + (guint32)attempts * 40503u;

    for (int i = 1; i < attempts && span < most_ms; i++)
        span *= 2;
    span = MIN(span, most_ms);
    int64_t jittered = span / 2 + span * (int64_t)(share % 1000) / 2000;
    return jittered / SECOND_MS * SECOND_MS;
}

static MessageKind kind_of(const Row *row)
{
    MessageKind kind = MESSAGE_REMINDER;
    bool known = message_kind_from_name(row_text(row, OUTBOX_KIND), &kind);

    g_assert(known);
    return kind;
}

/* The session of a reminder that a bar stopped is excused, not unasked. */
static void excuse_session(Job *job, const Row *row, const char *rule)
{
    static const char *const EXCUSES[] = {"hold", "paused", "ended",
                                          "suspended until a person settles it", NULL};
    g_autoptr(Row) session =
        row_is_null(row, OUTBOX_SESSION)
            ? NULL
            : tx_get_text(job->tx, TABLE_SESSION, row_text(row, OUTBOX_SESSION));

    if (session == NULL || kind_of(row) != MESSAGE_REMINDER) return;
    if (!g_strv_contains(EXCUSES, rule)) return;
    tx_append(job->tx, "session.closed", row_text(row, OUTBOX_CLIENT), "osier", NULL,
              json_pack("{s:s, s:s, s:I, s:s, s:s, s:I}", "session", row_text(session, SESSION_ID),
                        "date", row_text(session, SESSION_DATE), "slot",
                        (json_int_t)row_int(session, SESSION_SLOT), "as", "excused", "why", rule,
                        "at", (json_int_t)job->now_ms));
}

/* Writes the fate into the ledger; the outbox keeps the message only while something may still be
 * tried. */
static void put_settled(Job *job, const Row *row, Fate fate, const char *gateway_id,
                        const char *reason)
{
    const char *gateway = row_text(row, OUTBOX_GATEWAY);
    const Gateway *used = gateway != NULL ? clinic_gateway(job->clinic, gateway) : NULL;
    bool sms = strcmp(row_text(row, OUTBOX_CHANNEL), "sms") == 0;
    int segments = sms ? sms_size(row_text(row, OUTBOX_TEXT)).segments : 0;
    const char *subject = row_text(row, OUTBOX_CLIENT);

    tx_append(
        job->tx, "message.settled", subject != NULL ? subject : "clinic", "osier", NULL,
        json_pack("{s:s?, s:I, s:s, s:s?, s:s, s:I, s:s?, s:s?, s:s, s:s, s:f, s:s?, s:i, "
                  "s:s?, s:s?, s:s, s:s}",
                  "alert", row_text(row, OUTBOX_ALERT), "at", (json_int_t)row_int(row, OUTBOX_AT),
                  "channel", row_text(row, OUTBOX_CHANNEL), "client", subject, "fate",
                  fate_name(fate), "fate_at", (json_int_t)job->now_ms, "gateway", gateway,
                  "gateway_id", gateway_id, "kind", row_text(row, OUTBOX_KIND), "message",
                  row_text(row, OUTBOX_ID), "price", used != NULL ? used->price * segments : 0.0,
                  "reason", reason, "segments", segments, "session", row_text(row, OUTBOX_SESSION),
                  "subject", row_text(row, OUTBOX_SUBJECT), "text", row_text(row, OUTBOX_TEXT),
                  "to", row_text(row, OUTBOX_TO)));
    tx_delete(job->tx, row);
}

/* It is given up. Where an earlier try may have got through, nobody can say that it did not. */
static void give_up(Job *job, const Row *row, Fate fate, const char *reason)
{
    put_settled(job, row, row_is_null(row, OUTBOX_BOUND) ? fate : FATE_UNSURE, NULL, reason);
}

static void lapse(Job *job, const Row *row, const char *rule)
{
    give_up(job, row, FATE_LAPSED, rule);
    excuse_session(job, row, rule);
}

static void put_off(Job *job, Row *row, int64_t at_ms, const char *reason)
{
    row_set_text(row, OUTBOX_STATE, fate_name(FATE_WAITING));
    row_set_int(row, OUTBOX_NEXT_AT, at_ms);
    row_set_text(row, OUTBOX_REASON, reason);
    tx_put(job->tx, row);
    job->posted = true;
}

/* A call that was overtaken while it waited: the alert has been closed, or taken since. */
static const char *overtaken(Job *job, const Row *row)
{
    g_autoptr(Row) alert = row_is_null(row, OUTBOX_ALERT)
                               ? NULL
                               : tx_get_text(job->tx, TABLE_ALERT, row_text(row, OUTBOX_ALERT));
    const char *state = alert == NULL ? NULL : row_text(alert, ALERT_STATE);

    if (g_strcmp0(state, "closed") == 0) return "the alert is closed";
    if (g_strcmp0(state, "taken") == 0 && row_int(row, OUTBOX_AT) < row_int(alert, ALERT_TAKEN_AT))
        return "the alert has been taken";
    return NULL;
}

/* Is it about words of the client's own that are hardly an hour old? Who has just written is awake: that they are being
 * looked after is an answer to a warning sign, which quiet hours do not bind. */
static bool answers_fresh_words(Job *job, const Row *row)
{
    g_autoptr(Row) alert = kind_of(row) != MESSAGE_UPDATE || row_is_null(row, OUTBOX_ALERT)
                               ? NULL
                               : tx_get_text(job->tx, TABLE_ALERT, row_text(row, OUTBOX_ALERT));
    if (alert == NULL || row_is_null(alert, ALERT_CAUSE)) return false;
    int64_t age_ms = job->now_ms - row_int(alert, ALERT_AT);
    if (age_ms < 0 || age_ms >= HOUR_MS) return false; /* set back, the clock tells no age */
    g_autoptr(Row) reply = tx_get_text(job->tx, TABLE_REPLY, row_text(alert, ALERT_CAUSE));
    return reply != NULL;
}

/* Asks the gate again, as things stand now. A started message goes to the address that the client
 * has now. */
static GateVerdict judge(Job *job, Row *row, Channel channel)
{
    int64_t end_ms = row_int(row, OUTBOX_END);
    MessageKind kind = kind_of(row);

    if (!claim_goes_to_client(row)) {
        GateCase staff = {.kind = kind, .to_staff = true, .now_ms = job->now_ms, .end_ms = end_ms};
        const char *why = kind == MESSAGE_ALERT ? overtaken(job, row) : NULL;
        return why != NULL ? (GateVerdict){.answer = GATE_NEVER, .rule = why} : gate_judge(&staff);
    }
    g_autoptr(Person) person = person_load(job, row_text(row, OUTBOX_CLIENT));
    if (person == NULL) /* a store that fails finds nobody; nothing of this job is kept then */
        return (GateVerdict){.answer = GATE_LATER, .at_ms = job->now_ms + MINUTE_MS};
    GateCase gate = post_gate(job, person, channel, kind, end_ms);
    if (gate.quiet && answers_fresh_words(job, row)) gate.quiet = false;
    if (message_is_started(kind)) {
        /* The message itself is counted, where it was made today. */
        if (row_int(row, OUTBOX_AT) >= job_day(job, person->zone)->from_ms)
            gate.sent_today = MAX(0, gate.sent_today - 1);
        if (person->address[channel] != NULL)
            row_set_text(row, OUTBOX_TO, person->address[channel]);
    }
    GateVerdict verdict = gate_judge(&gate);
    if (verdict.answer == GATE_GO && kind == MESSAGE_REMINDER)
        replanned_judge(job, person, row, &verdict);
    return verdict;
}

/* A sick gateway is tried with one message at a time, the most urgent: what has come to its end behind it lapses all the same. */
#define LAPSE_AT_ONCE 32

static bool is_past_end(const Job *job, const Row *row)
{
    return row_int(row, OUTBOX_END) != 0 && row_int(row, OUTBOX_END) <= job->now_ms;
}

void settle_claim(Job *job, Channel channel, const Gateway *gateway, const Route *route, int limit,
                  GPtrArray *claims)
{
    const char *by = channel_name(channel);
    int most = MAX(limit, LAPSE_AT_ONCE);
    g_autoptr(GPtrArray) ready = route == NULL ? find_ready(job->tx, by, job->now_ms, most)
                                               : find_routed(job->tx, by, route, job->now_ms, most);

    ahead_of_claims(job, ready);
    int taken = 0;
    for (guint i = 0; i < ready->len; i++) {
        Row *row = ready->pdata[i];
        if (taken >= limit && !is_past_end(job, row)) continue;
        GateVerdict verdict = judge(job, row, channel);
        if (verdict.answer == GATE_NEVER) {
            lapse(job, row, verdict.rule);
        } else if (verdict.answer == GATE_LATER) {
            put_off(job, row, verdict.at_ms, verdict.rule);
        } else {
            g_ptr_array_add(claims, claim_take(job, row, gateway));
            taken++;
        }
    }
    ahead_end(job);
}

/* "We have told your clinic": only once the alert was accepted, once for each alert, for signs and
 * pain. */
static void say_told(Job *job, const Row *row)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, row_text(row, OUTBOX_ALERT));
    g_autoptr(Person) person =
        alert == NULL ? NULL : person_load(job, row_text(alert, ALERT_CLIENT));
    bool hurts = false;

    if (person == NULL || person->stopped) return;
    for (guint i = 0; i < person->bars->len; i++)
        hurts = hurts || g_strcmp0(row_text(person->bars->pdata[i], BAR_CAUSE),
                                   row_text(alert, ALERT_ID)) == 0;
    if (!hurts) return;
    /* It points to the safety text. Whoever was spoken to has had none: the last text may well ask for stretching. */
    g_autofree char *safety = g_strconcat("safety/", row_text(alert, ALERT_CAUSE), NULL);
    if (row_is_null(alert, ALERT_CAUSE) || !post_was_made(job, safety)) return;
    /* Of one reply, which two who share a telephone may be meant by, it is said once. */
    g_autofree char *purpose = g_strconcat("told/", row_text(alert, ALERT_CAUSE), NULL);
    Worded words;
    words_key(job, person, person->channel, "told", &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_UPDATE,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .alert = row_text(alert, ALERT_ID),
                               .end_ms = job->now_ms + 2 * HOUR_MS}));
    worded_clear(&words);
}

/* A client who cannot be reached is a clinician's matter. So is a digest that reached nobody: nobody would miss it. An
 * alert's own failure is met by calling the next. */
void settle_open_failed(Job *job, const char *client, const char *kind, const char *message,
                        const char *reason)
{
    bool digest = strcmp(kind, "digest") == 0;
    g_autoptr(Person) person = client != NULL ? person_load(job, client) : NULL;

    if (strcmp(kind, "alert") == 0 || (person == NULL && !digest)) return;
    json_t *reasons = json_array();
    json_array_append_new(
        reasons, reason_words("undeliverable", reason, digest ? MATTER_DIGEST_WORDS : NULL));
    g_free(alert_open(
        job, person,
        &(Opening){
            .kind = "undeliverable", .class = ALERT_TODAY, .cause = message, .reasons = reasons}));
    json_decref(reasons);
}

static void open_undeliverable(Job *job, const Row *row, const char *reason)
{
    settle_open_failed(job, row_text(row, OUTBOX_CLIENT), row_text(row, OUTBOX_KIND),
                       row_text(row, OUTBOX_ID), reason != NULL ? reason : "refused");
}

void settle_untaken(Job *job, int limit)
{
    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++) {
        if (route_takes(job->clinic, channel)) continue;
        const char *why =
            channel == CHANNEL_SMS ? "no gateway takes texts" : "no gateway takes mail";
        g_autoptr(GPtrArray) ready = find_ready(job->tx, channel_name(channel), job->now_ms, limit);
        for (guint k = 0; k < ready->len; k++) {
            put_settled(job, ready->pdata[k], FATE_FAILED, NULL, why);
            open_undeliverable(job, ready->pdata[k], why);
        }
    }
}

/* An alert or a safety text of which it is certain that it did not get out goes again within half a minute: there are few of
 * them, and somebody waits. Where it may have got out, nobody is to get it every half minute. */
static int64_t wait_most(const Row *row, Fate fate)
{
    bool soon = fate == FATE_WAITING && message_is_worth_twice(kind_of(row));

    return soon ? BACKOFF_FIRST_MS : SETTLE_BACKOFF_MOST_MS;
}

static void try_again(Job *job, Row *row, const Settlement *settlement)
{
    const char *reason = settlement->reason;
    int attempts = (int)row_int(row, OUTBOX_ATTEMPTS);
    int64_t end_ms = row_int(row, OUTBOX_END);
    int64_t wait_ms =
        settle_backoff(row_text(row, OUTBOX_ID), attempts, wait_most(row, settlement->fate));

    if (kind_of(row) != MESSAGE_ALERT && end_ms == 0 &&
        job->now_ms - row_int(row, OUTBOX_AT) > GIVE_UP_MS) {
        give_up(job, row, FATE_FAILED, reason);
        open_undeliverable(job, row, reason);
        return;
    }
    if (settlement->retry_after_s > 0)
        wait_ms = MAX(wait_ms, MIN(settlement->retry_after_s, 3600) * SECOND_MS);
    int64_t at_ms = job->now_ms + wait_ms;
    if (end_ms != 0 && at_ms > end_ms) at_ms = end_ms; /* it lapses then, and not before */
    put_off(job, row, at_ms, reason);
}

/* Nobody knows whether it left: settled as unsure, or bound to its gateway as the policy has it. True where it goes on. */
static bool goes_on(Job *job, Row *row, const char *reason)
{
    const char *name = row_text(row, OUTBOX_GATEWAY);
    const Gateway *gateway = name != NULL ? clinic_gateway(job->clinic, name) : NULL;
    Repeat repeat = repeat_policy(gateway, kind_of(row));

    bool there = repeat == REPEAT_THERE || (repeat == REPEAT_THERE_FIRST &&
                                            row_int(row, OUTBOX_ATTEMPTS) < REPEAT_THERE_MOST);

    if (repeat == REPEAT_NOT)
        put_settled(job, row, FATE_UNSURE, NULL, reason);
    else
        row_set_text(row, OUTBOX_BOUND, there ? name : NULL);
    return repeat != REPEAT_NOT;
}

/* A receipt that came before the answer, under the gateway's id or under ours; NULL where there is none. *id: under which. */
static Row *early_receipt(Job *job, const char *gateway, const char *ours, const char **id)
{
    const Gateway *known = clinic_gateway(job->clinic, gateway);
    bool tells = known != NULL && (known->receipts != NULL || known->kind == GATEWAY_PROGRAM);
    Row *early = *id != NULL ? receipt_take(job->tx, gateway, *id) : NULL;

    if (early != NULL || !tells) return early;
    *id = ours;
    return receipt_take(job->tx, gateway, ours);
}

static void settle_accepted(Job *job, const Row *row, const Settlement *settlement)
{
    const char *gateway = row_text(row, OUTBOX_GATEWAY);
    const char *id = settlement->gateway_id;
    Receipt receipt = {0};

    put_settled(job, row, FATE_ACCEPTED, settlement->gateway_id, settlement->reason);
    if (kind_of(row) == MESSAGE_ALERT) say_told(job, row);
    if (gateway == NULL) return;
    g_autoptr(Row) early = early_receipt(job, gateway, row_text(row, OUTBOX_ID), &id);
    receipt.gateway_id = (char *)id;
    if (early != NULL && fate_from_name(row_text(early, RECEIPT_FATE), &receipt.fate))
        settle_receipt(job, gateway, &receipt);
}

/* Refused once, and not yet known whose fault it is: it waits, and goes again by itself should osier end meanwhile. */
static void hold(Job *job, Row *row, const char *reason)
{
    g_autofree char *why = g_strdup_printf(
        "refused (%s); for up to %d minutes osier waits to see whether the gateway "
        "refuses everybody",
        reason != NULL ? reason : "no reason given", (int)(OUTCOME_HOLD_MS / MINUTE_MS));

    put_off(job, row, job->now_ms + OUTCOME_HOLD_MS + MINUTE_MS, why);
}

void settle_outcome(Job *job, const Outcome *outcome)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_OUTBOX, outcome->claim->id);
    const Settlement *settlement = &outcome->settlement;

    /* A claim that was followed by another has no say: what came of the later one is still to come. */
    if (row == NULL || row_int(row, OUTBOX_WROTE_AT) != outcome->claim->claimed_ms) return;
    if (outcome->manner == OUTCOME_FREED) row_set_text(row, OUTBOX_BOUND, NULL);
    if (outcome->manner == OUTCOME_UNTRIED || outcome->manner == OUTCOME_FREED) {
        row_set_int(row, OUTBOX_ATTEMPTS, MAX(0, row_int(row, OUTBOX_ATTEMPTS) - 1));
        put_off(job, row, job->now_ms, settlement->reason);
        return;
    }
    switch (settlement->fate) {
    case FATE_ACCEPTED: settle_accepted(job, row, settlement); return;
    case FATE_REFUSED:
        if (outcome->manner == OUTCOME_HELD) {
            hold(job, row, settlement->reason);
            return;
        }
        if (outcome->manner == OUTCOME_SICK) {
            try_again(job, row, settlement);
            return;
        }
        put_settled(job, row, FATE_REFUSED, NULL, settlement->reason);
        open_undeliverable(job, row, settlement->reason);
        return;
    case FATE_UNSURE:
        if (goes_on(job, row, settlement->reason)) try_again(job, row, settlement);
        return;
    default: try_again(job, row, settlement); return;
    }
}

/* A gateway that is asked gets a moment to finish what it may have been given. */
#define ASK_AFTER_MS (15 * SECOND_MS)

void settle_interrupted(Job *job)
{
    static const char REASON[] = "osier stopped while writing it";
    g_autoptr(GPtrArray) rows = find_outbox(job->tx, fate_name(FATE_WRITING));

    for (guint i = 0; i < rows->len; i++) {
        Row *row = rows->pdata[i];
        const char *name = row_text(row, OUTBOX_GATEWAY);
        const Gateway *gateway = name != NULL ? clinic_gateway(job->clinic, name) : NULL;
        int64_t wait_ms = gateway_class(gateway) == GATEWAY_ASKED ? ASK_AFTER_MS : 0;
        if (goes_on(job, row, REASON)) put_off(job, row, job->now_ms + wait_ms, REASON);
    }
}

void settle_unbind(Job *job)
{
    g_autoptr(GPtrArray) rows = find_bound(job->tx);

    for (guint i = 0; i < rows->len; i++) {
        Row *row = rows->pdata[i];
        const char *reason = "its gateway has left the settings";
        const Gateway *gateway = clinic_gateway(job->clinic, row_text(row, OUTBOX_BOUND));
        if (gateway_class(gateway) != GATEWAY_BLIND) continue;
        row_set_text(row, OUTBOX_GATEWAY, row_text(row, OUTBOX_BOUND));
        if (goes_on(job, row, reason)) put_off(job, row, job->now_ms, reason);
    }
}
