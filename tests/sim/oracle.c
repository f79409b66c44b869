/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/oracle.h"

#include <string.h>

#include "core/ledger/fold.h"
#include "tests/sim/laptop.h"
#include "tests/sim/local.h"
#include "tests/sim/oracle_inside.h"

static void epoch_free(void *data)
{
    Epoch *epoch = data;

    g_free(epoch->client);
    g_free(epoch->start);
    g_time_zone_unref(epoch->zone);
    g_free(epoch);
}

static void some_free(void *data)
{
    g_free(((SomePain *)data)->client);
    g_free(data);
}

static void word_free(void *data)
{
    StaffWord *word = data;

    g_free(word->from);
    g_free(word->text);
    g_free(word);
}

static GHashTable *texts(GDestroyNotify free_value)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_value);
}

static void at_rest(SimClinic *clinic, void *context)
{
    (void)clinic;
    oracle_judge_rest(context);
}

Oracle *oracle_new(SimClinic *clinic, bool takes_key)
{
    Oracle *oracle = g_new0(Oracle, 1);

    oracle->clinic = clinic;
    oracle->trace = clinic->trace;
    oracle->takes_key = takes_key;
    oracle->model = model_new();
    oracle->folded = ledger_tables_new();
    oracle->asking = texts(NULL);
    oracle->alive = texts(NULL);
    oracle->fresh = g_ptr_array_new();
    oracle->over = g_ptr_array_new();
    oracle->settled = g_ptr_array_new();
    oracle->taken = g_ptr_array_new();
    oracle->some = g_ptr_array_new_with_free_func(some_free);
    oracle->epochs = g_ptr_array_new_with_free_func(epoch_free);
    oracle->groups = texts(g_free);
    oracle->counts = texts(NULL);
    oracle->acked = texts(NULL);
    oracle->started = texts((GDestroyNotify)g_hash_table_unref);
    oracle->once = texts(g_free);
    oracle->codes = texts(NULL);
    oracle->letters = texts(g_free);
    oracle->warned = texts(g_free);
    oracle->words = g_ptr_array_new_with_free_func(word_free);
    clinic->quiet = at_rest;
    clinic->quiet_context = oracle;
    return oracle;
}

void oracle_free(Oracle *oracle)
{
    GHashTable *const tables[] = {oracle->asking, oracle->alive,   oracle->groups, oracle->counts,
                                  oracle->acked,  oracle->started, oracle->once,   oracle->codes,
                                  oracle->warned, oracle->letters};
    GPtrArray *const arrays[] = {oracle->fresh, oracle->over,   oracle->settled, oracle->taken,
                                 oracle->some,  oracle->epochs, oracle->words};

    oracle->clinic->quiet = NULL;
    model_free(oracle->model);
    ledger_tables_free(oracle->folded);
    for (size_t i = 0; i < G_N_ELEMENTS(tables); i++)
        g_hash_table_unref(tables[i]);
    for (size_t i = 0; i < G_N_ELEMENTS(arrays); i++)
        g_ptr_array_unref(arrays[i]);
    g_free(oracle);
}

const Model *oracle_model(const Oracle *oracle)
{
    return oracle->model;
}

/* --- events --- */

/* "Every raw reply is in the ledger once", however often and under how many ids it was handed over.
 */
static void a_reply_is_kept_once(Oracle *oracle, const ModelReply *reply)
{
    const char *first =
        reply->gateway_id != NULL ? g_hash_table_lookup(oracle->groups, reply->gateway_id) : NULL;

    if (first == NULL) return;
    int count = GPOINTER_TO_INT(g_hash_table_lookup(oracle->counts, first)) + 1;
    g_hash_table_insert(oracle->counts, g_strdup(first), GINT_TO_POINTER(count));
    if (count > 1)
        trace_break(oracle->trace, "a reply is kept once", "'%s' from %s, id %s, is there %d times",
                    reply->text, reply->from, reply->gateway_id, count);
}

/* A plan is in force from now on, as the ledger says: a call whose answer was lost in a power cut may have been kept. */
static void begin_epoch(Oracle *oracle, const char *client, const json_t *times, const char *start,
                        int64_t at_ms)
{
    const ModelClient *of = model_client(oracle->model, client);
    Epoch *epoch = g_new0(Epoch, 1);

    *epoch = (Epoch){.client = g_strdup(client),
                     .zone = g_time_zone_ref(of->zone),
                     .start = g_strdup(start),
                     .from_ms = at_ms,
                     .to_ms = INT64_MAX};
    for (; epoch->n < (int)json_array_size(times); epoch->n++)
        epoch->minute[epoch->n] =
            local_minute_of(json_string_value(json_array_get(times, (size_t)epoch->n)));
    g_ptr_array_add(oracle->epochs, epoch);
}

static Epoch *end_epoch(Oracle *oracle, const char *client, int64_t at_ms)
{
    for (guint i = 0; i < oracle->epochs->len; i++) {
        Epoch *epoch = oracle->epochs->pdata[i];
        if (strcmp(epoch->client, client) != 0 || epoch->to_ms != INT64_MAX) continue;
        epoch->to_ms = at_ms;
        return epoch;
    }
    return NULL;
}

/* A new plan, or another zone for the plan there is. */
static void note_plan(Oracle *oracle, const Event *event, const json_t *body)
{
    const json_t *fields = json_object_get(body, "fields");
    bool planned = strcmp(event->kind, "plan.set") == 0;

    if (!planned && json_object_get(fields, "zone") == NULL) return;
    Epoch *before = end_epoch(oracle, event->subject, event->wall);
    if (planned) {
        begin_epoch(oracle, event->subject, json_object_get(fields, "times"),
                    json_string_value(json_object_get(fields, "start")), event->wall);
    } else if (before != NULL) {
        begin_epoch(oracle, event->subject, NULL, before->start, event->wall);
        Epoch *moved = oracle->epochs->pdata[oracle->epochs->len - 1];
        memcpy(moved->minute, before->minute, sizeof moved->minute);
        moved->n = before->n;
    }
}

/* Which things of the model this event makes worth a look. */
static void mark(Oracle *oracle, const Event *event)
{
    Model *model = oracle->model;
    json_t *body = json_loads(event->body, JSON_DECODE_ANY, NULL);
    const char *session = json_string_value(json_object_get(body, "session"));
    const char *message = json_string_value(json_object_get(body, "message"));

    if (strcmp(event->kind, "plan.set") == 0 || strcmp(event->kind, "client.set") == 0)
        note_plan(oracle, event, body);
    if (strcmp(event->kind, "session.asked") == 0)
        g_hash_table_add(oracle->asking, g_strdup(session));
    else if (strcmp(event->kind, "session.closed") == 0 ||
             (strcmp(event->kind, "report.made") == 0 && session != NULL))
        g_ptr_array_add(oracle->over, g_hash_table_lookup(model->sessions, session));
    else if (strcmp(event->kind, "message.settled") == 0)
        g_ptr_array_add(oracle->settled, model_message(model, message));
    else if (strcmp(event->kind, "alert.opened") == 0)
        g_hash_table_add(oracle->alive, g_strdup(event->subject));
    else if (strcmp(event->kind, "alert.taken") == 0)
        g_ptr_array_add(oracle->taken, g_hash_table_lookup(model->alerts, event->subject));
    else if (strcmp(event->kind, "alert.closed") == 0)
        g_hash_table_remove(oracle->alive, event->subject);
    else if (strcmp(event->kind, "reply.received") == 0) {
        ModelReply *reply = g_hash_table_lookup(model->replies, event->subject);
        g_ptr_array_add(oracle->fresh, reply);
        a_reply_is_kept_once(oracle, reply);
    }
    json_decref(body);
}

static bool take(const Event *event, void *context)
{
    Oracle *oracle = context;
    FoldTables tables = ledger_tables_fold(oracle->folded);

    oracle_judge_event(oracle, event);
    model_take(oracle->model, event);
    fold_event(&tables, event);
    mark(oracle, event);
    return true;
}

static bool load_job(Tx *tx, void *context)
{
    Oracle *oracle = context;

    oracle->model->now_ms = sim_now(oracle->clinic);
    tx_events(tx, "replica = ?1 AND seq > ?2 ORDER BY seq", take, oracle, "ti", LAPTOP_REPLICA,
              oracle->model->laptop_seq);
    tx_events(tx, "replica = ?1 AND seq > ?2 ORDER BY seq", take, oracle, "ti", tx_replica(tx),
              oracle->model->seq);
    return false;
}

void oracle_load(Oracle *oracle)
{
    device_look(oracle->clinic->device, load_job, oracle);
}

/* --- what goes out --- */

void sent_clear(Sent *sent)
{
    g_free(sent->id);
    g_free(sent->kind);
    g_free(sent->client);
    g_free(sent->session);
    g_free(sent->alert);
    g_free(sent->state);
    g_free(sent->text);
}

static bool row_job(Tx *tx, void *context)
{
    Sent *sent = context;
    g_autoptr(Row) row = tx_get_text(tx, TABLE_OUTBOX, sent->id);

    if (row == NULL) return false;
    sent->kind = g_strdup(row_text(row, OUTBOX_KIND));
    sent->client = g_strdup(row_text(row, OUTBOX_CLIENT));
    sent->session = g_strdup(row_text(row, OUTBOX_SESSION));
    sent->alert = g_strdup(row_text(row, OUTBOX_ALERT));
    sent->state = g_strdup(row_text(row, OUTBOX_STATE));
    sent->text = g_strdup(row_text(row, OUTBOX_TEXT));
    sent->end_ms = row_int(row, OUTBOX_END);
    sent->claimed_ms = row_int(row, OUTBOX_WROTE_AT);
    sent->to_client = sent->client != NULL && strcmp(sent->kind, "alert") != 0;
    return false;
}

/* A new life of the daemon does not know what became of what the last one was writing. */
static void oracle_crashed(Oracle *oracle)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->messages);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        ModelMessage *message = value;
        if (message->fate == NULL) message->crashed = true;
    }
}

bool oracle_written(Oracle *oracle, const Written *written, Sent *sent)
{
    if (oracle->sent_life != oracle->clinic->lives) oracle_crashed(oracle);
    oracle->sent_life = oracle->clinic->lives;
    *sent = (Sent){.id = g_strdup(written->id)};
    oracle_load(oracle);
    device_look(oracle->clinic->device, row_job, sent);
    if (sent->kind == NULL) {
        trace_break(oracle->trace, "a row before a call", "message %s to %s is not in the store",
                    written->id, written->to);
        sent_clear(sent);
        return false;
    }
    trace_note(oracle->trace, "  it is a %s for client %s", sent->kind,
               sent->client != NULL ? sent->client : "none");
    oracle_judge_sent(oracle, sent, written);
    return true;
}

/* --- what the world did --- */

void oracle_said(Oracle *oracle, const char *gateway_id, const char *first_id, const char *from,
                 const char *text)
{
    StaffWord *word;

    g_hash_table_insert(oracle->groups, g_strdup(gateway_id), g_strdup(first_id));
    if (strcmp(from, SIM_OKAFOR) != 0 && strcmp(from, SIM_LINDQVIST) != 0) return;
    word = g_new0(StaffWord, 1);
    *word = (StaffWord){.from = g_strdup(from), .text = g_strdup(text)};
    g_ptr_array_add(oracle->words, word);
}

void oracle_acknowledged(Oracle *oracle, const char *gateway_id)
{
    g_hash_table_add(oracle->acked, g_strdup(gateway_id));
}

const Epoch *oracle_epoch(const Oracle *oracle, const char *client, const char *date, int slot,
                          int64_t utc_ms)
{
    for (guint i = 0; i < oracle->epochs->len; i++) {
        const Epoch *epoch = oracle->epochs->pdata[i];
        if (strcmp(epoch->client, client) != 0 || slot < 1 || slot > epoch->n) continue;
        if (utc_ms > epoch->to_ms || strcmp(date, epoch->start) < 0) continue;
        if (local_instant(epoch->zone, date, epoch->minute[slot - 1]) == utc_ms) return epoch;
    }
    return NULL;
}

GPtrArray *oracle_clients_at(const Oracle *oracle, const char *phone)
{
    GPtrArray *found = g_ptr_array_new();
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->clients);
    while (g_hash_table_iter_next(&iter, NULL, &value))
        if (g_strcmp0(((ModelClient *)value)->phone, phone) == 0) g_ptr_array_add(found, value);
    return found;
}
