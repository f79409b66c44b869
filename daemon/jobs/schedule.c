/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/schedule.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

#define NUDGE_APART_MS HOUR_MS /* two texts that ask, closer than this, are one too many */

/* The slot is found again from its date, so that the due index holds no second truth. */
static char *due_body(const SessionInstant *next)
{
    return g_strdup_printf("%d %d %" G_GINT64_FORMAT, next->date, next->slot, next->ms);
}

/* The plan's times with what is known of the client's zone. */
static SessionTimes times_of(Job *job, const Person *person)
{
    SessionTimes times = person->times;

    times.near = job_near(job, person->zone);
    return times;
}

void schedule_next(Job *job, const Person *person, int64_t after_ms)
{
    SessionTimes times = times_of(job, person);
    SessionInstant next;

    if (!person_has_plan(person) ||
        !sessions_after(&times, person_zone(job, person), after_ms, &next)) {
        due_drop(job->tx, "session", person->id);
        return;
    }
    g_autofree char *body = due_body(&next);
    due_set(job->tx, "session", person->id, next.ms, person->id, body);
    course_ensure(job, person);
}

json_t *session_body(const Person *person, const char *session, const SessionInstant *instant)
{
    g_autofree char *date = day_format(instant->date);
    g_autofree char *local = local_format(instant->local);

    return json_pack("{s:s, s:s, s:i, s:s, s:s, s:I, s:s?, s:s?}", "session", session, "date", date,
                     "slot", instant->slot, "local", local, "zone", person->zone, "utc",
                     (json_int_t)instant->ms, "stage", person->stage, "programme",
                     person->programme);
}

static void close_session(Job *job, const Person *person, const char *session,
                          const SessionInstant *instant, const char *as, const char *why)
{
    json_t *body = session_body(person, session, instant);

    json_object_set_new(body, "as", json_string(as));
    json_object_set_new(body, "why", json_string(why));
    json_object_set_new(body, "at", json_integer(job->now_ms));
    tx_append(job->tx, "session.closed", person->id, "osier", NULL, body);
}

/* Why the session is nobody's fault, or NULL where it may be asked. */
static const char *excuse(const Person *person)
{
    if (person->ended) return "ended";
    if (person->held) return "hold";
    if (person->paused) return "paused";
    if (person->suspended) return "suspended until a person settles it";
    return NULL;
}

char *schedule_purpose(const char *session)
{
    return g_strconcat("reminder/", session, NULL);
}

static void ask(Job *job, const Person *person, const char *session, const SessionInstant *instant,
                int64_t end_ms)
{
    g_autofree char *purpose = schedule_purpose(session);
    Worded words;
    json_t *reasons =
        json_pack("[{s:s, s:I}, {s:s, s:I}]", "rule", "session time", "value",
                  (json_int_t)instant->ms, "rule", "end", "value", (json_int_t)end_ms);

    words_reminder(job, person, &words);
    g_autofree char *message = post_client(job, person,
                                           &(Post){.kind = MESSAGE_REMINDER,
                                                   .purpose = purpose,
                                                   .text = words.text,
                                                   .subject = words.subject,
                                                   .session = session,
                                                   .end_ms = end_ms,
                                                   .judged = true,
                                                   .reasons = reasons});
    worded_clear(&words);
    json_t *body = session_body(person, session, instant);
    json_object_set_new(body, "message", message != NULL ? json_string(message) : json_null());
    json_object_set_new(body, "at", json_integer(job->now_ms));
    json_object_set_new(body, "reasons", reasons);
    tx_append(job->tx, "session.asked", person->id, "osier", NULL, body);
    if (job->clinic->nudge_after_ms > 0)
        due_set(job->tx, "nudge", session, instant->ms + job->clinic->nudge_after_ms, person->id,
                NULL);
    due_set(job->tx, "silent", session, instant->ms + job->clinic->silent_after_ms, person->id,
            NULL);
}

/* A landline is not asked by message: the session is on the list of calls, and closed if nobody
 * reports. */
static void leave_to_call(Job *job, const Person *person, const char *session,
                          const SessionInstant *instant)
{
    g_autofree char *due = due_body(instant);
    g_autofree char *body = g_strdup_printf("%s %d", due, instant->local.second);

    due_set(job->tx, "call", session, instant->ms + job->clinic->silent_after_ms, person->id, body);
}

/* Somebody was entered apart, before that replica heard of the erasure: nothing goes to that number until a person says that it may.
 * Said once. */
static void tell_of_erased_number(Job *job, const Person *person)
{
    g_autofree char *cause = g_strconcat("erased/", person->id, NULL);
    json_t *reasons = json_array();

    json_array_append_new(
        reasons, reason_words("undeliverable", "the number of somebody who was erased", NULL));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "undeliverable",
                                 .class = ALERT_TODAY,
                                 .cause = cause,
                                 .reasons = reasons,
                                 .apart = true}));
    json_decref(reasons);
}

/* Asks the session, or closes it with the reason, or waits for the end of quiet hours. True where
 * it is over with. */
static bool meet(Job *job, const Person *person, const char *session, const SessionInstant *instant)
{
    int64_t end_ms = instant->ms + job->clinic->reminder_ends_ms;
    const char *why = excuse(person);

    if (why != NULL) {
        close_session(job, person, session, instant, "excused", why);
        return true;
    }
    if (person->channel == CHANNEL_PHONE) {
        leave_to_call(job, person, session, instant);
        return true;
    }
    GateCase gate = post_gate(job, person, person->channel, MESSAGE_REMINDER, end_ms);
    GateVerdict verdict = gate_judge(&gate);
    if (verdict.answer == GATE_LATER) {
        g_autofree char *body = due_body(instant);
        due_set(job->tx, "session", person->id, verdict.at_ms, person->id, body);
        return false;
    }
    if (gate.erased) tell_of_erased_number(job, person);
    if (verdict.answer == GATE_NEVER || person->address[person->channel] == NULL)
        close_session(job, person, session, instant, "unasked",
                      verdict.rule != NULL ? verdict.rule : "no address for the channel");
    else
        ask(job, person, session, instant, end_ms);
    return true;
}

bool schedule_find(Job *job, const Person *person, Day date, int slot, SessionInstant *instant)
{
    g_autoptr(GArray) day = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    SessionTimes times = times_of(job, person);

    sessions_on(&times, person_zone(job, person), date, 1, day);
    for (guint i = 0; i < day->len; i++)
        if (g_array_index(day, SessionInstant, i).slot == slot) {
            *instant = g_array_index(day, SessionInstant, i);
            return true;
        }
    return false;
}

bool schedule_has_day(Job *job, const Person *person, int64_t ms)
{
    g_autoptr(GArray) day = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    SessionTimes times = times_of(job, person);
    GTimeZone *zone = person_zone(job, person);

    if (!person_has_plan(person)) return false;
    sessions_on(&times, zone, zone_local(zone, ms).day, 1, day);
    return day->len > 0;
}

char *schedule_session_due(const char *client, const char *body)
{
    g_auto(GStrv) parts = g_strsplit(body != NULL ? body : "", " ", 3);

    if (g_strv_length(parts) < 3) return NULL;
    g_autofree char *date = day_format((Day)g_ascii_strtoll(parts[0], NULL, 10));
    return id_session(client, date, (int)g_ascii_strtoll(parts[1], NULL, 10));
}

/* Reads a due body back. A session to be asked is read by the plan as it stands now: what the plan no longer has is not
 * met. One that was left to a call has had its time; it stands as it was, whatever became of the plan. */
bool schedule_find_due(Job *job, const Person *person, const char *body, SessionInstant *instant)
{
    g_auto(GStrv) parts = g_strsplit(body != NULL ? body : "", " ", 4);
    guint n = g_strv_length(parts);

    if (n < 3) return false;
    Day date = (Day)g_ascii_strtoll(parts[0], NULL, 10);
    int slot = (int)g_ascii_strtoll(parts[1], NULL, 10);
    if (n == 3) return schedule_find(job, person, date, slot, instant);
    *instant = (SessionInstant){
        .date = date,
        .slot = slot,
        .local = {.day = date, .second = (int32_t)g_ascii_strtoll(parts[3], NULL, 10)},
        .ms = g_ascii_strtoll(parts[2], NULL, 10)};
    return true;
}

static bool was_asked(Job *job, const char *session)
{
    g_autoptr(Row) before = tx_get_text(job->tx, TABLE_SESSION, session);

    return before != NULL &&
           (!row_is_null(before, SESSION_ASKED_AT) || !row_is_null(before, SESSION_CLOSED));
}

/* A slot once asked or closed is never asked again that date, under whichever id of the client; a bare report made ahead does not
 * count as either. */
static bool is_over_with(Job *job, const Person *person, const char *session, const char *date,
                         int slot)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, person->id);
    bool over = was_asked(job, session);

    for (guint i = 0; i < ids->len && !over; i++) {
        if (strcmp(ids->pdata[i], person->id) == 0) continue;
        g_autofree char *other = id_session(ids->pdata[i], date, slot);
        over = was_asked(job, other);
    }
    return over;
}

void schedule_session(Job *job, const char *client, const char *body)
{
    g_autoptr(Person) person = person_load(job, client);
    SessionInstant instant;

    if (person == NULL || !person_has_plan(person) || strcmp(person->id, client) != 0) {
        due_drop(job->tx, "session", client);
        return;
    }
    if (!schedule_find_due(job, person, body, &instant)) {
        schedule_next(job, person, job->now_ms - 1);
        return;
    }
    g_autofree char *date = day_format(instant.date);
    g_autofree char *session = id_session(person->id, date, instant.slot);
    bool over = true;
    if (!is_over_with(job, person, session, date, instant.slot))
        over = meet(job, person, session, &instant);
    if (over) schedule_next(job, person, instant.ms);
}

/* Each round moves the due row on, or drops it. */
void schedule_overdue(Job *job, const char *client)
{
    while (job->sender) {
        g_autoptr(Row) due = due_get(job->tx, "session", client);
        if (due == NULL || row_int(due, DUE_AT) >= job->now_ms) return;
        schedule_session(job, client, row_text(due, DUE_BODY));
    }
}

/* What is known of a session asked or called for. NULL where it, or its client, is not there. */
static Row *session_row(Job *job, const char *session)
{
    return tx_get_text(job->tx, TABLE_SESSION, session);
}

static bool is_state(const Row *row, const char *state)
{
    return g_strcmp0(row_text(row, SESSION_STATE), state) == 0;
}

static bool has_report(const Row *row)
{
    return !row_is_null(row, SESSION_REPORT);
}

/* Did the gateway take the message that asked? */
static bool was_accepted(Job *job, const Row *session)
{
    if (row_is_null(session, SESSION_MESSAGE)) return false;
    g_autoptr(Row) message =
        tx_get_text(job->tx, TABLE_MESSAGE, row_text(session, SESSION_MESSAGE));
    const char *fate = message == NULL ? NULL : row_text(message, MESSAGE_FATE);
    return g_strcmp0(fate, "accepted") == 0 || g_strcmp0(fate, "delivered") == 0;
}

/* Does a reminder of the same day do instead: of a session that came after this one, or comes within the hour? Or would
 * the nudge take the room, under the daily cap, of a reminder that is still to come? A session must not go unasked for it. */
static bool reminder_does(Job *job, const Person *person, const Row *row, const GateCase *gate)
{
    g_autoptr(GArray) today = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    SessionTimes times = times_of(job, person);
    int to_come = 0;

    if (!person_has_plan(person)) return false;
    sessions_on(&times, person_zone(job, person), job_day(job, person->zone)->local.day, 1, today);
    for (guint i = 0; i < today->len; i++) {
        int64_t at_ms = g_array_index(today, SessionInstant, i).ms;
        if (at_ms > row_int(row, SESSION_UTC) && at_ms <= job->now_ms + NUDGE_APART_MS) return true;
        to_come += at_ms > job->now_ms;
    }
    return gate->sent_today + 1 + to_come > gate->per_day_max;
}

/* Who has answered, so that a person must look, is not asked again. */
static bool answer_waits(Job *job, const Row *row)
{
    g_autoptr(GPtrArray) waiting = find_replies(job->tx, row_text(row, SESSION_CLIENT), "unread",
                                                row_int(row, SESSION_ASKED_AT));

    return waiting->len > 0;
}

void schedule_nudge(Job *job, const char *session)
{
    g_autoptr(Row) row = session_row(job, session);

    due_drop(job->tx, "nudge", session);
    if (row == NULL || !is_state(row, "asked") || has_report(row) || !was_accepted(job, row) ||
        answer_waits(job, row))
        return;
    g_autoptr(Person) person = person_load(job, row_text(row, SESSION_CLIENT));
    if (person == NULL || person->channel == CHANNEL_PHONE) return;
    /* One that comes hours late, or would have to wait for the morning, is no longer a nudge. */
    int64_t due_ms = row_int(row, SESSION_UTC) + job->clinic->nudge_after_ms;
    if (job->now_ms >= due_ms + job->clinic->reminder_ends_ms) return;
    int64_t end_ms = job->now_ms + job->clinic->reminder_ends_ms;
    GateCase gate = post_gate(job, person, person->channel, MESSAGE_NUDGE, end_ms);
    if (gate_judge(&gate).answer != GATE_GO || reminder_does(job, person, row, &gate)) return;
    g_autofree char *purpose = g_strconcat("nudge/", session, NULL);
    Worded words;
    words_nudge(job, person, &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_NUDGE,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .session = session,
                               .end_ms = end_ms}));
    worded_clear(&words);
}

/* The session as the row tells it, for the event that closes it. */
static json_t *row_body(const Row *row)
{
    return json_pack("{s:s, s:s, s:I, s:s?, s:s?, s:I, s:s?, s:s?}", "session",
                     row_text(row, SESSION_ID), "date", row_text(row, SESSION_DATE), "slot",
                     (json_int_t)row_int(row, SESSION_SLOT), "local", row_text(row, SESSION_LOCAL),
                     "zone", row_text(row, SESSION_ZONE), "utc",
                     (json_int_t)row_int(row, SESSION_UTC), "stage", row_text(row, SESSION_STAGE),
                     "programme", row_text(row, SESSION_PROGRAMME));
}

void schedule_silent(Job *job, const char *session)
{
    g_autoptr(Row) row = session_row(job, session);

    due_drop(job->tx, "silent", session);
    if (row == NULL || !is_state(row, "asked")) return;
    g_autoptr(Person) person = person_load(job, row_text(row, SESSION_CLIENT));
    bool accepted = was_accepted(job, row);
    /* Who answered with a sign, pain or illness and was told to stop was not silent. */
    bool told_to_stop = person != NULL && (person->held || person->suspended);
    const char *barred = told_to_stop && accepted ? excuse(person) : NULL;
    json_t *body = row_body(row);
    json_object_set_new(body, "as",
                        json_string(barred != NULL ? "excused"
                                    : accepted     ? "silent"
                                                   : "unasked"));
    json_object_set_new(body, "why",
                        json_string(barred != NULL ? barred
                                    : accepted     ? "no answer"
                                                   : "the reminder did not surely go out"));
    json_object_set_new(body, "at", json_integer(job->now_ms));
    tx_append(job->tx, "session.closed", row_text(row, SESSION_CLIENT), "osier", NULL, body);
    alert_missed_run(job, row_text(row, SESSION_CLIENT), session);
}

void schedule_call(Job *job, const char *client, const char *session, const char *body)
{
    g_autoptr(Person) person = person_load(job, client);
    g_autoptr(Row) row = session_row(job, session);
    SessionInstant instant;

    due_drop(job->tx, "call", session);
    if (row != NULL && (has_report(row) || !row_is_null(row, SESSION_CLOSED))) return;
    if (person == NULL || !schedule_find_due(job, person, body, &instant)) return;
    close_session(job, person, session, &instant, "unasked", "nobody wrote down a call");
}

void schedule_pause_over(Job *job, const char *client, const char *bar)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_BAR, bar);

    due_drop(job->tx, "pause", bar);
    if (row == NULL || !row_is_null(row, BAR_LIFTED_AT)) return;
    tx_append(
        job->tx, "client.resume", client, "osier", NULL,
        json_pack("{s:[s], s:I, s:s}", "ends", bar, "at", (json_int_t)job->now_ms, "by", "osier"));
}
