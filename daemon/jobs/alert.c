/* SPDX-License-Identifier: Apache-2.0 */
/* An alert's life: open -> taken -> closed, and open -> closed where a clinician closes it
 * outright.
 *
 *     open ----take----> taken ----close----> closed
 *      | ^                 |  two hours without an outcome: passed on, still taken
 *      | '--passed on------'
 *      '------------------close-------------> closed
 */
#include "daemon/jobs/alert.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "core/watch/duty.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/schedule.h"
#include "daemon/jobs/words.h"

#define OUTCOME_WANTED_MS (2 * HOUR_MS)
#define RUN_LOOKED_AT 60

/* The shortest beginning of the id, three digits at least, that no alert has that is not closed. */
static char *short_code(Job *job, const char *id)
{
    g_autoptr(GPtrArray) open = find_alerts(job->tx, NULL, false);

    for (size_t length = 3; length < strlen(id); length++) {
        bool taken = false;
        for (guint i = 0; i < open->len && !taken; i++) {
            const char *code = row_text(open->pdata[i], ALERT_CODE);
            size_t shared = MIN(length, strlen(code));
            taken = strncmp(code, id, shared) == 0;
        }
        if (!taken) return g_strndup(id, length);
    }
    return g_strdup(id);
}

static void set_hold(Job *job, const Person *person, const char *alert, const char *kind)
{
    for (guint i = 0; i < person->bars->len; i++)
        if (g_strcmp0(row_text(person->bars->pdata[i], BAR_CAUSE), alert) == 0) return;
    tx_append(job->tx, "hold.set", person->id, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", kind, "by",
                        "osier", "cause", alert));
}

/* The same matter again: written down, and whoever took it hears of it now. */
static void repeat(Job *job, const Row *alert, const Opening *opening)
{
    const char *id = row_text(alert, ALERT_ID);

    tx_append(job->tx, "alert.repeated", id, "osier", NULL,
              json_pack("{s:s, s:I, s:O}", "cause", opening->cause, "at", (json_int_t)job->now_ms,
                        "reasons", opening->reasons));
    if (strcmp(row_text(alert, ALERT_STATE), "taken") == 0 && opening->class != ALERT_FOR_DIGEST)
        due_set(job->tx, "taken", id, job->now_ms, NULL, NULL);
}

char *alert_open(Job *job, const Person *person, const Opening *opening)
{
    const char *client = person != NULL ? person->id : "clinic";
    g_autoptr(Row) before = find_open_alert(job->tx, client, opening->kind);
    g_autofree char *id = NULL;

    if (before != NULL && alert_class_from_name(row_text(before, ALERT_CLASS)) <= opening->class) {
        id = g_strdup(row_text(before, ALERT_ID));
        repeat(job, before, opening);
    } else {
        id = id_alert(client, opening->kind, opening->cause);
        g_autoptr(Row) same = tx_get_text(job->tx, TABLE_ALERT, id);
        if (same != NULL) return g_steal_pointer(&id);
        g_autofree char *code = short_code(job, id);
        tx_append(job->tx, "alert.opened", id, "osier", NULL,
                  json_pack("{s:s, s:s, s:s, s:s, s:I, s:O, s:s}", "code", code, "client", client,
                            "kind", opening->kind, "class", alert_class_name(opening->class), "at",
                            (json_int_t)job->now_ms, "reasons", opening->reasons, "cause",
                            opening->cause));
        if (opening->class != ALERT_FOR_DIGEST)
            due_set(job->tx, "alert", id, job->now_ms, NULL, NULL);
    }
    if (opening->hold && person != NULL) set_hold(job, person, id, opening->kind);
    return g_steal_pointer(&id);
}

/* A code of four digits that this clinician can take this alert with, by a text from that number,
 * once. */
static char *taking_code(Job *job, const char *alert, const DutyPerson *person)
{
    g_autoptr(Row) row = row_new(TABLE_CODE);

    row_set_text(row, CODE_ALERT, alert);
    row_set_text(row, CODE_PERSON, person->name);
    g_autoptr(Row) before = tx_get(job->tx, row);
    if (before != NULL && row_is_null(before, CODE_USED_AT))
        return g_strdup(row_text(before, CODE_CODE));
    g_autofree char *purpose = g_strdup_printf("code/%s/%s", alert, person->name);
    char *code = g_strdup_printf("%04d", (int)random_below(job->random, purpose, 10000));
    row_set_text(row, CODE_NUMBER, person->sms);
    row_set_text(row, CODE_CODE, code);
    tx_put(job->tx, row);
    return code;
}

/* Nobody is sent a second call about a matter while the first still waits: a gateway that comes back
 * after a night must not ring out that night's calls one by one. */
static void send_call(Job *job, Channel channel, const char *to, const char *about,
                      const Post *post)
{
    g_autoptr(GPtrArray) waiting = find_calls_waiting(job->tx, post->alert, to);

    if (waiting->len == 0) g_free(post_staff(job, channel, to, about, post));
}

/* Calls one person by text, or by mail where there is no number; the clinic's desk by mail when the
 * list starts again. */
static void call(Job *job, const Row *alert, const Person *client, const DutyCall *call)
{
    const char *id = row_text(alert, ALERT_ID);
    int64_t passed = row_int(alert, ALERT_PASSED);
    const char *about = client != NULL ? client->id : NULL;
    g_autofree char *taking = taking_code(job, id, call->person);
    g_autofree char *purpose = g_strdup_printf("alert/%s/%" G_GINT64_FORMAT, id, passed);
    Channel channel = call->person->sms != NULL ? CHANNEL_SMS : CHANNEL_EMAIL;
    const char *to = call->person->sms != NULL ? call->person->sms : call->person->email;
    Worded words;

    words_alert(job, client, alert, taking, passed > 0, &words);
    Post post = {.kind = MESSAGE_ALERT,
                 .purpose = purpose,
                 .text = words.text,
                 .subject = words.subject,
                 .alert = id};
    send_call(job, channel, to, about, &post);
    for (guint i = 0; call->again && i < job->clinic->digest_to->len; i++) {
        g_autofree char *mail = g_strdup_printf("%s/mail/%u", purpose, i);
        post.purpose = mail;
        send_call(job, CHANNEL_EMAIL, job->clinic->digest_to->pdata[i], about, &post);
    }
    worded_clear(&words);
    tx_append(job->tx, "alert.passed", id, "osier", NULL,
              json_pack("{s:s, s:I, s:I}", "to", call->person->name, "at", (json_int_t)job->now_ms,
                        "round", (json_int_t)passed));
}

/* Calls the next person now where it is time, and sets the instant of the one after. */
static void pass_on(Job *job, const char *id, const Row *alert)
{
    g_autoptr(Person) client = person_load(job, row_text(alert, ALERT_CLIENT));
    AlertClass class = alert_class_from_name(row_text(alert, ALERT_CLASS));
    const char *treating = client != NULL ? client->clinician : NULL;
    int passed = (int)row_int(alert, ALERT_PASSED);
    int64_t last_ms = row_int(alert, ALERT_PASSED_AT);
    DutyCall next;

    if (!duty_next(job->clinic, job_clinic_zone(job), class, treating, job->now_ms, passed, last_ms,
                   &next)) {
        due_drop(job->tx, "alert", id);
        return;
    }
    if (next.at_ms <= job->now_ms) {
        call(job, alert, client, &next);
        passed++;
        last_ms = job->now_ms;
        if (!duty_next(job->clinic, job_clinic_zone(job), class, treating, job->now_ms, passed,
                       last_ms, &next))
            next.at_ms = job->now_ms + job->clinic->again_ms;
    }
    due_set(job->tx, "alert", id, MAX(next.at_ms, job->now_ms + SECOND_MS), NULL, NULL);
}

void alert_pass_on(Job *job, const char *id)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    if (alert == NULL || g_strcmp0(row_text(alert, ALERT_STATE), "open") != 0)
        due_drop(job->tx, "alert", id);
    else
        pass_on(job, id, alert);
}

void alert_taken_late(Job *job, const char *id)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    due_drop(job->tx, "taken", id);
    if (alert == NULL || g_strcmp0(row_text(alert, ALERT_STATE), "taken") != 0) return;
    pass_on(job, id, alert);
    due_drop(job->tx, "alert", id);
    due_set(job->tx, "taken", id, job->now_ms + OUTCOME_WANTED_MS, NULL, NULL);
}

/* The date of the last session that an alert about missed days was opened for, or NULL (g_free). */
static char *last_told(Job *job, const char *client)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, client, true);
    char *date = NULL;

    for (guint i = 0; i < alerts->len; i++) {
        const Row *alert = alerts->pdata[i];
        if (g_strcmp0(row_text(alert, ALERT_KIND), "missed-run") != 0) continue;
        g_autoptr(Row) session = tx_get_text(job->tx, TABLE_SESSION, row_text(alert, ALERT_CAUSE));
        const char *told = session != NULL ? row_text(session, SESSION_DATE) : NULL;
        if (told == NULL || g_strcmp0(told, date) <= 0) continue;
        g_free(date);
        date = g_strdup(told);
    }
    return date;
}

/* Tells of a run once, when it reaches the limit, and again each time it has grown by as much: only the days since the
 * last alert count. Who is barred is not asked, and misses nothing; what was missed before counts once the bar is gone. */
void alert_missed_run(Job *job, const char *client, const char *cause)
{
    g_autoptr(GPtrArray) rows = find_last_sessions(job->tx, client, RUN_LOOKED_AT);
    g_autofree DatedState *states = g_new0(DatedState, rows->len + 1);
    g_autofree char *told = last_told(job, client);
    int n = 0;

    for (guint i = 0; i < rows->len; i++) {
        const char *date = row_text(rows->pdata[i], SESSION_DATE);
        if (told != NULL && strcmp(date, told) <= 0) break;
        day_parse(date, &states[n].date);
        states[n++].state = row_text(rows->pdata[i], SESSION_STATE);
    }
    int run = missed_run(states, n);
    g_autoptr(Person) person = person_load(job, client);
    if (person == NULL || run < job->clinic->missed_run) return;
    if (person->stopped || person->held || person->paused || person->suspended || person->ended)
        return;
    g_autoptr(Row) open = find_open_alert(job->tx, client, "missed-run");
    if (open != NULL && run % job->clinic->missed_run != 0) return;
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_number("missed_run", run, job->clinic->missed_run, true));
    g_free(alert_open(
        job, person,
        &(Opening){
            .kind = "missed-run", .class = ALERT_TODAY, .cause = cause, .reasons = reasons}));
    json_decref(reasons);
}

/* The reply that raised the alert needs no second person. */
static void settle_cause(Job *job, const Row *alert, const char *by)
{
    const char *cause = row_text(alert, ALERT_CAUSE);
    g_autoptr(Row) reply = cause == NULL ? NULL : tx_get_text(job->tx, TABLE_REPLY, cause);

    if (reply != NULL && g_strcmp0(row_text(reply, REPLY_STATE), "unread") == 0) {
        tx_append(job->tx, "reply.settled", cause, by, NULL, json_pack("{s:s}", "by", by));
        due_drop(job->tx, "unread", cause);
    }
}

bool alert_take(Job *job, const char *id, const char *by, const char *via)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    g_assert(alert != NULL);
    if (g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0 ||
        g_strcmp0(row_text(alert, ALERT_TAKEN_BY), by) == 0)
        return false;
    tx_append(job->tx, "alert.taken", id, by, NULL,
              json_pack("{s:s, s:I, s:s}", "by", by, "at", (json_int_t)job->now_ms, "via", via));
    due_drop(job->tx, "alert", id);
    due_set(job->tx, "taken", id, job->now_ms + OUTCOME_WANTED_MS, NULL, NULL);
    settle_cause(job, alert, by);
    return true;
}

static void lift_hold(Job *job, const Person *person, const char *alert, const char *by)
{
    json_t *ends = json_array();

    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        if (g_strcmp0(row_text(bar, BAR_KIND), "hold") == 0 &&
            g_strcmp0(row_text(bar, BAR_CAUSE), alert) == 0)
            json_array_append_new(ends, json_string(row_text(bar, BAR_ID)));
    }
    if (json_array_size(ends) == 0) {
        json_decref(ends);
        return;
    }
    tx_append(job->tx, "hold.lift", person->id, by, NULL,
              json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", by));
}

static void tell_client(Job *job, const Person *person, const char *alert, const char *outcome)
{
    g_autofree char *key = g_strconcat("outcome-", outcome, NULL);
    g_autofree char *purpose = g_strdup_printf("outcome/%s/%s", alert, outcome);
    Worded words;

    words_key(job, person, key, &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_UPDATE,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .alert = alert,
                               .end_ms = job->now_ms + DAY_MS}));
    worded_clear(&words);
}

/* The stage before the client's own, where the programme has one. */
static void step_back(Job *job, const Person *person, const char *by)
{
    const Programme *programme =
        person->programme == NULL ? NULL : settings_programme(job->settings, person->programme);
    const Stage *stage = programme == NULL ? NULL : programme_stage(programme, person->stage);

    if (stage != NULL && stage->back_key != NULL)
        tx_append(job->tx, "plan.move", person->id, by, NULL,
                  json_pack("{s:s, s:s}", "stage", stage->back_key, "by", by));
}

bool alert_close(Job *job, const char *id, const char *outcome, const char *by, const char *note,
                 const char **why)
{
    static const char *const OUTCOMES[] = {"resume", "step-back", "refer", "end", NULL};
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    g_assert(alert != NULL);
    *why = NULL;
    if (!g_strv_contains(OUTCOMES, outcome))
        *why = "the outcome is one of resume, step-back, refer, end";
    else if (g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0)
        *why = "closed already";
    if (*why != NULL) return false;
    g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));
    tx_append(job->tx, "alert.closed", id, by, NULL,
              json_pack("{s:s, s:I, s:s, s:s?}", "by", by, "at", (json_int_t)job->now_ms, "outcome",
                        outcome, "note", note));
    due_drop(job->tx, "alert", id);
    due_drop(job->tx, "taken", id);
    settle_cause(job, alert, by);
    if (person == NULL) return true;
    if (strcmp(outcome, "step-back") == 0) step_back(job, person, by);
    if (strcmp(outcome, "resume") == 0 || strcmp(outcome, "step-back") == 0)
        lift_hold(job, person, id, by);
    if (strcmp(outcome, "end") == 0)
        tx_append(job->tx, "client.end", person->id, by, NULL,
                  json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", "alert closed",
                            "by", by));
    if (strcmp(row_text(alert, ALERT_KIND), "missed-run") != 0)
        tell_client(job, person, id, outcome);
    return true;
}
