/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/heed.h"

#include <string.h>

#include "adapters/store/find_work.h"
#include "core/ledger/stamp.h"
#include "core/practice/programme.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/same.h"
#include "daemon/jobs/schedule.h"
#include "daemon/jobs/takeover.h"
#include "daemon/jobs/tell.h"

typedef void Heed(Job *job, const Event *event, const json_t *body);

static const char *text_of(const json_t *body, const char *field)
{
    const char *text = json_string_value(json_object_get(body, field));

    return text != NULL ? text : "";
}

/* The client's sessions and days are worked out anew. */
static void heed_client(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Person) person = person_load(job, event->subject);

    (void)body;
    if (person == NULL) return;
    takeover_pauses(job, person);
    schedule_next(job, person, job->now_ms - 1);
    course_next(job, person);
}

static void heed_plan(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Person) person = person_load(job, event->subject);

    heed_client(job, event, body);
    if (person != NULL) tell_welcome(job, person);
}

static int place_of(const Programme *programme, const char *key)
{
    for (int i = 0; programme != NULL && i < programme_stages(programme); i++)
        if (strcmp(programme_stage_at(programme, i)->key, key) == 0) return i;
    return -1;
}

static void heed_move(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Person) person = person_load(job, event->subject);
    const char *stage = text_of(body, "stage");

    heed_client(job, event, body);
    if (person == NULL || person->programme == NULL) return;
    const Programme *programme = settings_programme(job->settings, person->programme);
    int from = place_of(programme, text_of(body, "from")), to = place_of(programme, stage);
    if (from >= 0 && to >= 0)
        tell_moved(job, person, programme_stage_at(programme, from),
                   programme_stage_at(programme, to), to > from, event->wall);
}

static void heed_end(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Person) person = person_load(job, event->subject);

    if (person != NULL) tell_goodbye(job, person, text_of(body, "why"), event->wall);
    due_drop(job->tx, "session", tx_one(job->tx, event->subject));
}

static void heed_same(Job *job, const Event *event, const json_t *body)
{
    (void)body;
    same_settle(job, event->subject);
}

static void heed_report(Job *job, const Event *event, const json_t *body)
{
    const char *session = text_of(body, "session");

    (void)event;
    due_drop(job->tx, "nudge", session);
    due_drop(job->tx, "silent", session);
    due_drop(job->tx, "call", session);
}

static void heed_session(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Row) session = tx_get_text(job->tx, TABLE_SESSION, text_of(body, "session"));

    (void)event;
    if (session != NULL) takeover_session(job, session);
}

static void heed_alert(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, event->subject);

    (void)body;
    if (alert != NULL) takeover_alert(job, alert);
}

static void heed_closed(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, event->subject);

    heed_alert(job, event, body);
    if (alert == NULL || row_is_null(alert, ALERT_CLIENT)) return;
    g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));
    const char *outcome = text_of(body, "outcome");
    bool goes_on = strcmp(outcome, "resume") == 0 || strcmp(outcome, "step-back") == 0;
    if (person == NULL || (goes_on && (person->held || person->suspended))) return;
    alert_tell_outcome(job, person, alert, outcome, event->wall);
}

static void heed_reply(Job *job, const Event *event, const json_t *body)
{
    g_autoptr(Row) reply = tx_get_text(job->tx, TABLE_REPLY, event->subject);

    (void)body;
    if (reply != NULL) takeover_reply(job, reply);
}

static const struct {
    const char *kind;
    Heed *heed;
} HEEDS[] = {
    {"client.set", heed_client},     {"client.consent", heed_client}, {"client.start", heed_client},
    {"client.resume", heed_client},  {"client.pause", heed_client},   {"hold.lift", heed_client},
    {"screen.done", heed_client},    {"plan.set", heed_plan},         {"plan.move", heed_move},
    {"client.end", heed_end},        {"client.same_as", heed_same},   {"report.made", heed_report},
    {"session.asked", heed_session}, {"alert.opened", heed_alert},    {"alert.taken", heed_alert},
    {"alert.closed", heed_closed},   {"reply.received", heed_reply},  {"reply.read", heed_reply},
    {"reply.settled", heed_reply},
};

/* A stamp may say anything; what follows from an event follows from when it can have been. */
static Event seen(const Job *job, const Event *event)
{
    Event as_seen = *event;

    as_seen.wall = CLAMP(event->wall, 0, job->now_ms + STAMP_AHEAD_MS);
    return as_seen;
}

void heed_events(Job *job, const GPtrArray *events)
{
    for (guint i = 0; job->sender && i < events->len; i++) {
        Event as_seen = seen(job, events->pdata[i]);
        const Event *event = &as_seen;
        json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;

        for (size_t k = 0; body != NULL && k < G_N_ELEMENTS(HEEDS); k++)
            if (strcmp(HEEDS[k].kind, event->kind) == 0) HEEDS[k].heed(job, event, body);
        json_decref(body);
    }
}
