/* SPDX-License-Identifier: Apache-2.0 */
/* The rules that hold whenever the daemon has come to rest: sessions, alerts, replies. */
#include <string.h>

#include "tests/sim/oracle_inside.h"

/* --- sessions --- */

/* "A session ends as one of six": past the time to answer it is no longer asked. */
static void no_session_stays_asked(Oracle *oracle)
{
    int64_t now = sim_now(oracle->clinic);
    GHashTableIter iter;
    void *key;

    g_hash_table_iter_init(&iter, oracle->asking);
    while (g_hash_table_iter_next(&iter, &key, NULL)) {
        const ModelSession *session = g_hash_table_lookup(oracle->model->sessions, key);
        if (strcmp(model_state(oracle->model, session), "asked") != 0 && !session->silent &&
            session->message != NULL && session->done != NULL)
            g_hash_table_iter_remove(&iter);
        else if (session->silent || session->unasked || session->excused)
            g_hash_table_iter_remove(&iter);
        else if (strcmp(model_state(oracle->model, session), "asked") == 0 &&
                 now > session->utc_ms + SILENT_AFTER + SLACK && now > oracle->up_ms + SLACK)
            trace_break(oracle->trace, "no session stays asked", "%s, %s slot %d of client %s",
                        session->id, session->date, session->slot, session->client);
    }
}

/* "silent (asked, no answer)": only where the reminder was accepted; "unasked (osier could not ask,
 * or cannot know that it did)": only where it was not. "Silence is not refusal, and what was never
 * asked is nobody's fault." */
static void silence_is_not_what_was_never_asked(Oracle *oracle, const ModelSession *session)
{
    const ModelMessage *message =
        session->message != NULL ? g_hash_table_lookup(oracle->model->messages, session->message)
                                 : NULL;
    bool took = message != NULL && (g_strcmp0(message->fate, "accepted") == 0 ||
                                    g_strcmp0(message->fate, "delivered") == 0);

    if (session->silent && (message == NULL || !message->agreed))
        trace_break(oracle->trace, "silent only if the reminder was accepted",
                    "%s of client %s: its reminder was never accepted", session->date,
                    session->client);
    if (session->unasked && took && message->fate_ms < session->utc_ms + SILENT_AFTER &&
        !session->excused)
        trace_break(oracle->trace, "what was asked is not unasked",
                    "%s of client %s: its reminder was accepted", session->date, session->client);
}

static int newest_first(const void *a, const void *b)
{
    const ModelSession *left = *(ModelSession *const *)a, *right = *(ModelSession *const *)b;
    int order = strcmp(right->date, left->date);

    return order != 0 ? order : right->slot - left->slot;
}

/* "Who has answered, so that a person must look, has missed nothing that is known." */
static bool was_answered(const Oracle *oracle, const ModelSession *session)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->replies);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelReply *reply = value;
        if (g_strcmp0(reply->session, session->id) == 0 && g_strcmp0(reply->state, "read") != 0)
            return true;
    }
    return false;
}

/* "missed_run: asked days in a row without a session done or partly". Gives the instant at which the
 * run began. */
static int run_of(const Oracle *oracle, const char *client, int64_t *began_ms)
{
    g_autoptr(GPtrArray) sessions = g_ptr_array_new();
    GHashTableIter iter;
    void *value;
    int run = 0;

    g_hash_table_iter_init(&iter, oracle->model->sessions);
    while (g_hash_table_iter_next(&iter, NULL, &value))
        if (strcmp(((ModelSession *)value)->client, client) == 0) g_ptr_array_add(sessions, value);
    qsort(sessions->pdata, sessions->len, sizeof sessions->pdata[0], newest_first);
    for (guint i = 0; i < sessions->len;) {
        const char *date = ((ModelSession *)sessions->pdata[i])->date;
        bool missed = false;
        for (; i < sessions->len && strcmp(((ModelSession *)sessions->pdata[i])->date, date) == 0;
             i++) {
            const ModelSession *session = sessions->pdata[i];
            const char *state = model_state(oracle->model, session);
            if (strcmp(state, "done") == 0 || strcmp(state, "partly") == 0) return run;
            missed = missed || strcmp(state, "not") == 0 ||
                     (strcmp(state, "silent") == 0 && !was_answered(oracle, session));
            if (missed) *began_ms = session->utc_ms;
        }
        run += missed;
    }
    return run;
}

/* Who is barred is not asked, and misses nothing. The bar may have ended since in the same step. */
static bool was_barred(const ModelClient *client, const ModelSession *session)
{
    for (guint i = 0; i < client->bars->len; i++) {
        const ModelBar *bar = client->bars->pdata[i];
        if (bar->lifted_as == 0 || bar->lifted_as > session->told_as) return true;
    }
    return false;
}

/* "today: a run of missed days". */
static void a_run_of_missed_days_is_told(Oracle *oracle, const ModelSession *session)
{
    const char *state = model_state(oracle->model, session);
    int64_t began = INT64_MAX;
    GHashTableIter iter;
    void *value;

    if (strcmp(state, "silent") != 0 && strcmp(state, "not") != 0) return;
    if (strcmp(state, "silent") == 0 && was_answered(oracle, session)) return;
    if (was_barred(model_client(oracle->model, session->client), session)) return;
    int run = run_of(oracle, session->client, &began);
    if (run < MISSED_RUN) return;
    g_hash_table_iter_init(&iter, oracle->model->alerts);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelAlert *alert = value;
        if (g_strcmp0(alert->client, session->client) == 0 &&
            strcmp(alert->kind, "missed-run") == 0 && (!alert->closed || alert->at_ms >= began))
            return;
    }
    trace_break(oracle->trace, "a run of missed days is told", "client %s missed %d days",
                session->client, run);
}

/* --- messages --- */

static bool was_opened(const Oracle *oracle, const char *client, const char *kind,
                       const char *cause)
{
    GHashTableIter iter;
    void *value;

    if (model_open_alert(oracle->model, client, kind) != NULL) return true;
    g_hash_table_iter_init(&iter, oracle->model->alerts);
    while (g_hash_table_iter_next(&iter, NULL, &value))
        if (g_strcmp0(((ModelAlert *)value)->cause, cause) == 0) return true;
    return false;
}

/* "Alerts never lapse"; "today: undeliverable"; a fate follows from what the gateway said. */
static void a_fate_is_what_the_gateway_said(Oracle *oracle, const ModelMessage *message)
{
    const ModelAlert *about =
        message->alert != NULL ? g_hash_table_lookup(oracle->model->alerts, message->alert) : NULL;

    if (strcmp(message->kind, "alert") == 0 && strcmp(message->fate, "lapsed") == 0 &&
        about != NULL && !about->taken && !about->closed)
        trace_break(oracle->trace, "alerts never lapse", "message %s", message->id);
    if (strcmp(message->fate, "accepted") == 0 && !message->agreed)
        trace_break(oracle->trace, "a fate is what the gateway said",
                    "%s %s is accepted, which no gateway said", message->kind, message->id);
    if (strcmp(message->fate, "refused") == 0 && message->client != NULL &&
        strcmp(message->kind, "alert") != 0 &&
        !was_opened(oracle, message->client, "undeliverable", message->id))
        trace_break(oracle->trace, "who cannot be reached is told", "%s to client %s was refused",
                    message->kind, message->client);
}

/* --- alerts --- */

typedef struct {
    Oracle *oracle;
    const ModelAlert *alert;
} Look;

/* "now: at any hour, down the duty list, again until taken"; "today: within clinic hours"; "a taken
 * alert without an outcome is passed on after two hours". */
static bool due_job(Tx *tx, void *context)
{
    const Look *look = context;
    const ModelAlert *alert = look->alert;
    g_autoptr(Row) key = row_new(TABLE_DUE);
    bool now_class = strcmp(alert->class, "now") == 0;
    int64_t most = alert->taken ? 2 * HOUR : now_class ? 30 * MINUTE : 5 * DAY;

    row_set_text(key, DUE_KIND, alert->taken ? "taken" : "alert");
    row_set_text(key, DUE_KEY, alert->id);
    g_autoptr(Row) due = tx_get(tx, key);
    int64_t now = sim_now(look->oracle->clinic);
    /* Without room, what a clock that was set back makes too late cannot be put right yet. */
    if (due != NULL && device_is_behind(look->oracle->clinic->device)) return false;
    if (due == NULL || row_int(due, DUE_AT) > now + most)
        trace_break(look->oracle->trace, "an alert is passed on until it is closed",
                    "%s about %s, %s, is %s", alert->kind, alert->client, alert->class,
                    due == NULL ? "passed to nobody" : "passed on too late");
    return false;
}

static void an_alert_is_passed_on_until_it_is_closed(Oracle *oracle)
{
    int64_t now = sim_now(oracle->clinic);
    GHashTableIter iter;
    void *key;

    g_hash_table_iter_init(&iter, oracle->alive);
    while (g_hash_table_iter_next(&iter, &key, NULL)) {
        const ModelAlert *alert = g_hash_table_lookup(oracle->model->alerts, key);
        bool now_class = strcmp(alert->class, "now") == 0;
        if (strcmp(alert->class, "digest") == 0) continue;
        Look look = {.oracle = oracle, .alert = alert};
        device_look(oracle->clinic->device, due_job, &look);
        if (now_class && !alert->taken && now > alert->at_ms + SLACK &&
            now > oracle->up_ms + SLACK &&
            now > MAX(alert->passed_ms, alert->at_ms) + 30 * MINUTE + SLACK)
            trace_break(oracle->trace, "an alert for now is called again until it is taken",
                        "%s about %s", alert->kind, alert->client);
    }
}

/* "Taking by text needs the code sent to that clinician, once, from that number." */
static void a_text_takes_only_with_its_code(Oracle *oracle, const ModelAlert *alert)
{
    const char *number = g_strcmp0(alert->taken_by, "R. Okafor") == 0 ? SIM_OKAFOR : SIM_LINDQVIST;

    if (g_strcmp0(alert->taken_via, "text") != 0) return;
    for (guint i = 0; i < oracle->words->len; i++) {
        const StaffWord *word = oracle->words->pdata[i];
        const char *code = strpbrk(word->text, "0123456789");
        g_autofree char *key =
            g_strdup_printf("%s %.4s %s", number, code != NULL ? code : "", alert->id);
        if (strcmp(word->from, number) == 0 && g_hash_table_contains(oracle->codes, key)) return;
    }
    trace_break(oracle->trace, "a text takes only with its code", "%s was taken by %s", alert->id,
                alert->taken_by);
}

/* --- replies --- */

/* "Every raw reply ends as report, unread or command": none is left as it came. */
static void every_reply_is_read(Oracle *oracle)
{
    g_autoptr(GPtrArray) fresh = g_steal_pointer(&oracle->fresh);

    oracle->fresh = g_ptr_array_new();
    for (guint i = 0; i < fresh->len; i++) {
        ModelReply *reply = fresh->pdata[i];
        bool waits = strcmp(reply->state, "received") == 0;
        if (waits && sim_now(oracle->clinic) > MAX(reply->arrived_ms, oracle->up_ms) + SLACK)
            trace_break(oracle->trace, "every reply is read", "'%s' from %s lies as it came",
                        reply->text, reply->from);
        if (waits)
            g_ptr_array_add(oracle->fresh, reply);
        else
            oracle_judge_reply(oracle, reply);
    }
}

/* "Raw first, then acknowledged": what was acknowledged is in the ledger. */
static void what_was_acknowledged_is_kept(Oracle *oracle)
{
    GHashTableIter iter;
    void *key;

    g_hash_table_iter_init(&iter, oracle->acked);
    while (g_hash_table_iter_next(&iter, &key, NULL)) {
        const char *first = g_hash_table_lookup(oracle->groups, key);
        if (GPOINTER_TO_INT(g_hash_table_lookup(oracle->counts, first)) == 0)
            trace_break(oracle->trace, "what was acknowledged is kept", "%s is not in the ledger",
                        (const char *)key);
        g_hash_table_iter_remove(&iter);
    }
}

/* "today: 'some' pain left unanswered": within the day. It may be told in an alert that was open already, which a clinician has
 * closed since. */
static void pain_without_a_number_is_told(Oracle *oracle)
{
    int64_t now = sim_now(oracle->clinic);

    for (guint i = oracle->some->len; i-- > 0;) {
        const SomePain *some = oracle->some->pdata[i];
        if (now < some->at_ms + DAY || now < oracle->up_ms + HOUR) continue;
        GHashTableIter iter;
        void *value;
        bool told = false;
        g_hash_table_iter_init(&iter, oracle->model->alerts);
        while (!told && g_hash_table_iter_next(&iter, NULL, &value)) {
            const ModelAlert *alert = value;
            told = g_strcmp0(alert->client, some->client) == 0 &&
                   strcmp(alert->kind, "pain") == 0 &&
                   (!alert->closed || alert->closed_ms >= some->at_ms);
        }
        if (!told)
            trace_break(oracle->trace, "pain without a number is told", "client %s, a day ago",
                        some->client);
        g_ptr_array_remove_index(oracle->some, i);
    }
}

void oracle_judge_rest(Oracle *oracle)
{
    if (oracle->looking) return;
    oracle->looking = true;
    if (oracle->life != oracle->clinic->lives || oracle->jumps != oracle->clinic->jumps) {
        oracle->life = oracle->clinic->lives;
        oracle->jumps = oracle->clinic->jumps;
        oracle->up_ms = sim_now(oracle->clinic);
    }
    oracle_load(oracle);
    every_reply_is_read(oracle);
    what_was_acknowledged_is_kept(oracle);
    no_session_stays_asked(oracle);
    pain_without_a_number_is_told(oracle);
    an_alert_is_passed_on_until_it_is_closed(oracle);
    for (guint i = 0; i < oracle->settled->len; i++)
        a_fate_is_what_the_gateway_said(oracle, oracle->settled->pdata[i]);
    for (guint i = 0; i < oracle->taken->len; i++)
        a_text_takes_only_with_its_code(oracle, oracle->taken->pdata[i]);
    for (guint i = 0; i < oracle->over->len; i++) {
        silence_is_not_what_was_never_asked(oracle, oracle->over->pdata[i]);
        a_run_of_missed_days_is_told(oracle, oracle->over->pdata[i]);
    }
    g_ptr_array_set_size(oracle->settled, 0);
    g_ptr_array_set_size(oracle->taken, 0);
    g_ptr_array_set_size(oracle->over, 0);
    oracle->looking = false;
}
