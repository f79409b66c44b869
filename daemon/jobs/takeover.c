/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/takeover.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/fold.h"
#include "core/practice/readiness.h"
#include "daemon/desk/person.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/digest.h"
#include "daemon/jobs/keep.h"
#include "daemon/jobs/schedule.h"

/* Sessions asked longer ago than this are closed, or the sender before was away for so long that nobody waits. */
#define ASKED_LOOKED_AT_MS (7 * DAY_MS)

void takeover_pauses(Job *job, const Person *person)
{
    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        const char *why = row_text(bar, BAR_WHY);

        if (g_strcmp0(row_text(bar, BAR_KIND), "pause") != 0 || row_is_null(bar, BAR_UNTIL))
            continue;
        if (why == NULL || !absence_needs_screen(why))
            due_set(job->tx, "pause", row_text(bar, BAR_ID), row_int(bar, BAR_UNTIL), person->id,
                    NULL);
    }
}

/* The sender before said that it asked, and never what became of the message. */
static void note_unsure(Job *job, const Row *session)
{
    const char *message = row_text(session, SESSION_MESSAGE);
    g_autoptr(Row) settled = message != NULL ? tx_get_text(job->tx, TABLE_MESSAGE, message) : NULL;

    if (message == NULL || settled != NULL) return;
    tx_append(job->tx, "message.settled", row_text(session, SESSION_CLIENT), "osier", NULL,
              json_pack("{s:s, s:s, s:s, s:s, s:I, s:I, s:s}", "message", message, "kind",
                        "reminder", "session", row_text(session, SESSION_ID), "fate", "unsure",
                        "at", (json_int_t)row_int(session, SESSION_ASKED_AT), "fate_at",
                        (json_int_t)job->now_ms, "reason",
                        "the sender changed before its fate was known"));
}

void takeover_session(Job *job, const Row *session)
{
    if (g_strcmp0(row_text(session, SESSION_STATE), "asked") != 0) return;
    due_set(job->tx, "silent", row_text(session, SESSION_ID),
            MAX(job->now_ms, row_int(session, SESSION_UTC) + job->clinic->silent_after_ms),
            row_text(session, SESSION_CLIENT), NULL);
}

static void begin_sessions(Job *job, const Person *person)
{
    g_autoptr(GPtrArray) rows = tx_rows(
        job->tx, TABLE_SESSION, "client = ?1 AND asked_at >= ?2 AND state = 'asked' ORDER BY id",
        "ti", person->id, job->now_ms - ASKED_LOOKED_AT_MS);

    for (guint i = 0; i < rows->len; i++) {
        note_unsure(job, rows->pdata[i]);
        takeover_session(job, rows->pdata[i]);
    }
    schedule_next(job, person, job->now_ms - 1);
}

void takeover_alert(Job *job, const Row *alert)
{
    const char *id = row_text(alert, ALERT_ID);
    const char *state = row_text(alert, ALERT_STATE);

    due_drop(job->tx, "alert", id);
    due_drop(job->tx, "taken", id);
    if (g_strcmp0(state, "taken") == 0)
        due_set(job->tx, "taken", id,
                MAX(job->now_ms, row_int(alert, ALERT_TAKEN_AT) + ALERT_OUTCOME_WANTED_MS), NULL,
                NULL);
    else if (g_strcmp0(state, "open") == 0 &&
             g_strcmp0(row_text(alert, ALERT_CLASS), alert_class_name(ALERT_FOR_DIGEST)) != 0)
        due_set(job->tx, "alert", id, job->now_ms, NULL, NULL);
}

static void begin_alerts(Job *job)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, NULL, false);

    for (guint i = 0; i < alerts->len; i++)
        takeover_alert(job, alerts->pdata[i]);
}

void takeover_reply(Job *job, const Row *reply)
{
    const char *id = row_text(reply, REPLY_ID);

    due_drop(job->tx, "unread", id);
    if (g_strcmp0(row_text(reply, REPLY_STATE), "unread") == 0)
        due_set(job->tx, "unread", id, MAX(job->now_ms, row_int(reply, REPLY_ARRIVED) + DAY_MS),
                NULL, NULL);
}

static void begin_replies(Job *job)
{
    g_autoptr(GPtrArray) unread = find_replies(job->tx, NULL, "unread", 0);

    for (guint i = 0; i < unread->len; i++)
        takeover_reply(job, unread->pdata[i]);
}

void takeover_begin(Job *job)
{
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    for (guint i = 0; i < clients->len; i++) {
        g_autoptr(Person) person = person_load(job, clients->pdata[i]);

        if (person == NULL || person->ended) continue;
        takeover_pauses(job, person);
        begin_sessions(job, person);
    }
    begin_alerts(job);
    begin_replies(job);
    digest_schedule(job);
    keep_schedule(job);
}

int64_t takeover_take(Job *job, const char *by)
{
    g_autoptr(Sender) sender = sender_load(job->tx);

    if (sender->here && sender->epoch > 0) return sender->epoch;
    int64_t epoch =
        MIN(sender->epoch + 1, EPOCH_MAX); /* of two that are the same the later counts */
    tx_append(job->tx, "sender.taken", "clinic", by, NULL,
              json_pack("{s:s, s:I, s:s}", "replica", tx_replica(job->tx), "epoch",
                        (json_int_t)epoch, "by", by));
    job->sender = sender_is_here(job->tx);
    if (!sender->here) {
        takeover_end(job, "it waited while another replica had the duty to send");
        takeover_begin(job);
    }
    return epoch;
}

void takeover_lapse(Job *job, const Row *row, const char *why)
{
    const char *client = row_text(row, OUTBOX_CLIENT);

    tx_append(job->tx, "message.settled", client != NULL ? client : "clinic", "osier", NULL,
              json_pack("{s:s, s:s, s:s, s:s, s:s?, s:s?, s:I, s:s?, s:s?, s:s, s:I, s:s}",
                        "message", row_text(row, OUTBOX_ID), "to", row_text(row, OUTBOX_TO),
                        "channel", row_text(row, OUTBOX_CHANNEL), "kind",
                        row_text(row, OUTBOX_KIND), "text", row_text(row, OUTBOX_TEXT), "subject",
                        row_text(row, OUTBOX_SUBJECT), "at", (json_int_t)row_int(row, OUTBOX_AT),
                        "session", row_text(row, OUTBOX_SESSION), "alert",
                        row_text(row, OUTBOX_ALERT), "fate", "lapsed", "fate_at",
                        (json_int_t)job->now_ms, "reason", why));
    tx_delete(job->tx, row);
}

void takeover_end(Job *job, const char *why)
{
    g_autoptr(GPtrArray) waiting = find_outbox(job->tx, "waiting");

    for (guint i = 0; i < waiting->len; i++)
        takeover_lapse(job, waiting->pdata[i], why);
}
