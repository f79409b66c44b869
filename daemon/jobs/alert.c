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

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/consent.h"
#include "daemon/jobs/move.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/schedule.h"
#include "daemon/jobs/words.h"

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

/* The same matter again: written down; of signs and pain whoever took it hears. */
static void repeat(Job *job, const Person *client, const Row *alert, const Opening *opening)
{
    const char *id = row_text(alert, ALERT_ID);

    tx_append(job->tx, "alert.repeated", id, "osier", NULL,
              json_pack("{s:s, s:I, s:O}", "cause", opening->cause, "at", (json_int_t)job->now_ms,
                        "reasons", opening->reasons));
    if (strcmp(row_text(alert, ALERT_STATE), "taken") == 0 && opening->hold)
        alert_tell_taker(job, client, alert, opening->cause);
}

char *alert_open(Job *job, const Person *person, const Opening *opening)
{
    const char *client = person != NULL ? person->id : "clinic";
    g_autoptr(Row) before = find_open_alert(job->tx, client, opening->kind);
    g_autofree char *id = NULL;

    if (before != NULL && !opening->apart &&
        alert_class_from_name(row_text(before, ALERT_CLASS)) <= opening->class) {
        id = g_strdup(row_text(before, ALERT_ID));
        repeat(job, person, before, opening);
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

/* The sessions that a reply answers which still waits for a person: whoever answered has missed nothing that is known. */
static GHashTable *answered_unread(Job *job, const char *client, const GPtrArray *sessions)
{
    GHashTable *answered = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);

    if (sessions->len == 0) return answered;
    int64_t since_ms = row_int(sessions->pdata[sessions->len - 1], SESSION_UTC) - DAY_MS;
    g_autoptr(GPtrArray) replies = find_replies(job->tx, client, "unread", since_ms);
    for (guint i = 0; i < replies->len; i++)
        if (!row_is_null(replies->pdata[i], REPLY_SESSION))
            g_hash_table_add(answered, g_strdup(row_text(replies->pdata[i], REPLY_SESSION)));
    return answered;
}

/* Tells of a run once, when it reaches the limit, and again each time it has grown by as much: only the days since the
 * last alert count. Who is barred is not asked, and misses nothing; what was missed before counts once the bar is gone. */
void alert_missed_run(Job *job, const char *client, const char *cause)
{
    g_autoptr(GPtrArray) rows = find_last_outcomes(job->tx, client, RUN_LOOKED_AT);
    g_autofree DatedState *states = g_new0(DatedState, rows->len + 1);
    g_autofree char *told = last_told(job, client);
    g_autoptr(GHashTable) answered = answered_unread(job, client, rows);
    int n = 0;

    for (guint i = 0; i < rows->len; i++) {
        const char *date = row_text(rows->pdata[i], SESSION_DATE);
        if (told != NULL && strcmp(date, told) <= 0) break;
        day_parse(date, &states[n].date);
        const char *state = row_text(rows->pdata[i], SESSION_STATE);
        bool waits = strcmp(state, "silent") == 0 &&
                     g_hash_table_contains(answered, row_text(rows->pdata[i], SESSION_ID));
        states[n++].state = waits ? "unasked" : state;
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

/* Is the client suspended for what it was that raised the alert? Then whoever takes it has not decided that yet. */
static bool is_suspending(Job *job, const Row *alert)
{
    g_autoptr(GPtrArray) bars = find_bars(job->tx, row_text(alert, ALERT_CLIENT));

    for (guint i = 0; i < bars->len; i++)
        if (strcmp(row_text(bars->pdata[i], BAR_KIND), "suspend") == 0 &&
            g_strcmp0(row_text(bars->pdata[i], BAR_CAUSE), row_text(alert, ALERT_CAUSE)) == 0)
            return true;
    return false;
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

    g_assert(alert != NULL || tx_is_lost(job->tx));
    if (alert == NULL) return false;
    if (g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0 ||
        g_strcmp0(row_text(alert, ALERT_TAKEN_BY), by) == 0)
        return false;
    /* Of two within one millisecond, or where the clock was set back a little, the later taker has it. */
    int64_t taken_ms = row_int(alert, ALERT_TAKEN_AT);
    bool just_before = !row_is_null(alert, ALERT_TAKEN_AT) && taken_ms >= job->now_ms &&
                       taken_ms - job->now_ms < DAY_MS;
    int64_t at_ms = just_before ? taken_ms + 1 : job->now_ms;
    tx_append(job->tx, "alert.taken", id, by, NULL,
              json_pack("{s:s, s:I, s:s}", "by", by, "at", (json_int_t)at_ms, "via", via));
    due_drop(job->tx, "alert", id);
    due_set(job->tx, "taken", id, job->now_ms + ALERT_OUTCOME_WANTED_MS, NULL, NULL);
    if (!is_suspending(job, alert)) settle_cause(job, alert, by);
    return true;
}

/* True where one was in force. */
static bool lift_hold(Job *job, const Person *person, const char *alert, const char *by)
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
        return false;
    }
    tx_append(job->tx, "hold.lift", person->id, by, NULL,
              json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", by));
    return true;
}

/* Back one step, which is where the person stands now. */
static void word_step_back(Job *job, const Person *person, Worded *words)
{
    const Programme *programme =
        person->programme == NULL ? NULL : settings_programme(job->settings, person->programme);
    const Stage *stage = programme == NULL || person->stage == NULL
                             ? NULL
                             : programme_stage(programme, person->stage);
    const Stage *from = stage != NULL ? stage_next(programme, stage) : NULL;

    if (from != NULL)
        words_moved(job, person, from, stage, false, words);
    else
        words_key(job, person, person->channel, "outcome-step-back", words);
}

void alert_tell_outcome(Job *job, const Person *person, const Row *row, const char *outcome,
                        int64_t at_ms)
{
    const char *alert = row_text(row, ALERT_ID);
    bool finished =
        strcmp(outcome, "end") == 0 && g_strcmp0(row_text(row, ALERT_KIND), "review") == 0;
    g_autofree char *key = finished ? g_strdup("goodbye") : g_strconcat("outcome-", outcome, NULL);
    g_autofree char *purpose = g_strdup_printf("outcome/%s/%s", alert, outcome);
    Worded words;

    if (strcmp(outcome, "step-back") == 0)
        word_step_back(job, person, &words);
    else
        words_key(job, person, person->channel, key, &words);
    g_free(
        post_client(job, person,
                    /* only a goodbye goes to one who has ended */
                    &(Post){.kind = strcmp(outcome, "end") == 0 ? MESSAGE_GOODBYE : MESSAGE_UPDATE,
                            .purpose = purpose,
                            .text = words.text,
                            .subject = words.subject,
                            .alert = alert,
                            .end_ms = at_ms + DAY_MS}));
    worded_clear(&words);
}

/* The stage before the client's own, or NULL where the programme has none. */
static const Stage *stage_before(Job *job, const Person *person)
{
    const Programme *programme =
        person->programme == NULL ? NULL : settings_programme(job->settings, person->programme);
    const Stage *stage = programme == NULL || person->stage == NULL
                             ? NULL
                             : programme_stage(programme, person->stage);

    return stage != NULL ? stage_back(programme, stage) : NULL;
}

/* Acts on the outcome, and tells the client what is true then: that reminders begin again only where
 * no other matter holds them. */
static void carry_out(Job *job, const Person *person, const Row *alert, const char *outcome,
                      const char *by)
{
    const char *id = row_text(alert, ALERT_ID);
    bool goes_on = strcmp(outcome, "resume") == 0 || strcmp(outcome, "step-back") == 0;
    bool lifted = goes_on && lift_hold(job, person, id, by);

    if (goes_on) reply_lift_suspend(job, person, row_text(alert, ALERT_CAUSE), by);
    if (strcmp(outcome, "step-back") == 0)
        move_write(job, person, stage_before(job, person), by, NULL);
    if (strcmp(outcome, "end") == 0 && !person->ended)
        tx_append(job->tx, "client.end", person->id, by, NULL,
                  json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", "alert closed",
                            "by", by));
    g_autoptr(Person) after = person_load(job, person->id);
    if (after == NULL || (goes_on && (after->held || after->suspended))) return;
    if (strcmp(outcome, "resume") == 0 && !lifted) return;
    alert_tell_outcome(job, after, alert, outcome, job->now_ms);
}

/* Why the client cannot go on so, or NULL. */
static const char *bars_outcome(Job *job, const Person *person, const Row *alert,
                                const char *outcome)
{
    bool back = strcmp(outcome, "step-back") == 0;
    bool of_consent = strcmp(row_text(alert, ALERT_KIND), "consent") == 0;

    if (of_consent && person != NULL && (back || strcmp(outcome, "resume") == 0) &&
        consent_is_out(job, person))
        return "consent is to be given anew first: osier client set ID --consent \"sms: how, by "
               "whom, when\"; or choose refer or end";
    if (back && (person == NULL || stage_before(job, person) == NULL))
        return "there is no stage before the client's own; choose resume, refer or end";
    return NULL;
}

bool alert_close(Job *job, const char *id, const char *outcome, const char *by, const char *note,
                 const char **why)
{
    static const char *const OUTCOMES[] = {"resume", "step-back", "refer", "end", NULL};
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    g_assert(alert != NULL || tx_is_lost(job->tx));
    *why = NULL;
    if (alert == NULL)
        *why = "the store went away";
    else if (!g_strv_contains(OUTCOMES, outcome))
        *why = "the outcome must be one of resume, step-back, refer, end";
    else if (g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0 &&
             (g_strcmp0(row_text(alert, ALERT_OUTCOME), "refer") != 0 ||
              strcmp(outcome, "refer") == 0))
        *why = "closed already";
    if (*why != NULL) return false;
    g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));
    *why = bars_outcome(job, person, alert, outcome);
    if (*why != NULL) return false;
    tx_append(job->tx, "alert.closed", id, by, NULL,
              json_pack("{s:s, s:I, s:s, s:s?}", "by", by, "at", (json_int_t)job->now_ms, "outcome",
                        outcome, "note", note));
    due_drop(job->tx, "alert", id);
    due_drop(job->tx, "taken", id);
    settle_cause(job, alert, by);
    if (person != NULL) carry_out(job, person, alert, outcome, by);
    return true;
}
