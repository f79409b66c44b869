/* SPDX-License-Identifier: Apache-2.0 */
/* The rules that are looked at once a day, and at the end. */
#include <string.h>

#include "adapters/store/store_sqlite.h"
#include "tests/sim/local.h"
#include "tests/sim/oracle_inside.h"

static bool dump_job(Tx *tx, void *context)
{
    *(char **)context = tx_dump(tx);
    return false;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static char **sorted_lines(const char *dump)
{
    char **lines = g_strsplit(dump, "\n", -1);

    qsort(lines, g_strv_length(lines), sizeof lines[0], by_text);
    return lines;
}

/* "Derived: a pure fold of events, so it can be rebuilt and compares equal." */
static void a_rebuild_equals_the_tables(Oracle *oracle)
{
    g_autofree char *tables = NULL;
    g_autofree char *folded = ledger_tables_dump(oracle->folded);

    device_look(oracle->clinic->device, dump_job, &tables);
    g_auto(GStrv) left = sorted_lines(tables);
    g_auto(GStrv) right = sorted_lines(folded);
    for (int i = 0; left[i] != NULL || right[i] != NULL; i++) {
        if (left[i] != NULL && right[i] != NULL && strcmp(left[i], right[i]) == 0) continue;
        trace_break(oracle->trace, "a rebuild equals the tables", "tables: %s\n  events: %s",
                    left[i] != NULL ? left[i] : "nothing more",
                    right[i] != NULL ? right[i] : "nothing more");
        return;
    }
}

typedef struct {
    Oracle *oracle;
    const ModelSession *session;
} State;

static bool state_job(Tx *tx, void *context)
{
    const State *look = context;
    const char *expected = model_state(look->oracle->model, look->session);
    g_autoptr(Row) row = tx_get_text(tx, TABLE_SESSION, look->session->id);
    const char *state = row != NULL ? row_text(row, SESSION_STATE) : "not there";

    if (strcmp(state, expected) != 0)
        trace_break(look->oracle->trace, "the latest report, then excused, silent, unasked, asked",
                    "%s slot %d of client %s is %s, by its events %s", look->session->date,
                    look->session->slot, look->session->client, state, expected);
    return false;
}

static void states_follow_the_precedence(Oracle *oracle)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, oracle->model->sessions);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        State look = {.oracle = oracle, .session = value};
        device_look(oracle->clinic->device, state_job, &look);
    }
}

/* A plan that was changed within the day may give the same slot once more, later: for who is telephoned it is open until then. */
static bool may_still_be_called(const Oracle *oracle, const Epoch *epoch, const char *date,
                                int slot)
{
    int64_t over = MIN(sim_now(oracle->clinic) - SILENT_AFTER - SLACK, oracle->up_ms);

    for (guint i = 0; i < oracle->epochs->len; i++) {
        const Epoch *other = oracle->epochs->pdata[i];
        if (strcmp(other->client, epoch->client) != 0 || slot > other->n) continue;
        int64_t at = local_instant(other->zone, date, other->minute[slot - 1]);
        if (at > other->from_ms && at < other->to_ms && at >= over) return true;
    }
    return false;
}

/* "A session is planned, then asked, and ends as one of six": each that the plan gave is there and
 * has ended, a day after its time; and a day after a start or a leap of the clock, for the device may be full then. */
static void the_six_outcomes_add_up(Oracle *oracle, const Epoch *epoch)
{
    int64_t now = sim_now(oracle->clinic);
    int64_t to = MIN(epoch->to_ms, MIN(now - SILENT_AFTER - SLACK, oracle->up_ms));
    const ModelClient *client = model_client(oracle->model, epoch->client);
    const ModelBar *end = model_bar(client, "end", INT64_MAX);
    g_autofree char *first = NULL;

    if (now < oracle->up_ms + SILENT_AFTER + SLACK) return;
    if (end != NULL) to = MIN(to, end->at_ms);
    local_minute(epoch->zone, epoch->from_ms, &first);
    g_autofree char *date = g_strdup(strcmp(first, epoch->start) > 0 ? first : epoch->start);
    for (int day = 0; day < 400; day++) {
        g_autofree char *that = local_date_add(date, day);
        for (int slot = 1; slot <= epoch->n; slot++) {
            int64_t at = local_instant(epoch->zone, that, epoch->minute[slot - 1]);
            if (at >= to) return;
            if (at <= epoch->from_ms) continue;
            g_autofree char *key = g_strdup_printf("%s %s %d", epoch->client, that, slot);
            const ModelSession *session = g_hash_table_lookup(oracle->model->slots, key);
            const char *state = session != NULL ? model_state(oracle->model, session) : "not there";
            if (session == NULL && may_still_be_called(oracle, epoch, that, slot)) continue;
            if (session == NULL || strcmp(state, "asked") == 0 || strcmp(state, "planned") == 0)
                trace_break(oracle->trace, "the six outcomes add up", "client %s, %s slot %d: %s",
                            epoch->client, that, slot, state);
        }
    }
}

void oracle_compare(Oracle *oracle)
{
    if (oracle->clinic->daemon == NULL) return;
    oracle_load(oracle);
    a_rebuild_equals_the_tables(oracle);
    states_follow_the_precedence(oracle);
    for (guint i = 0; i < oracle->epochs->len; i++)
        the_six_outcomes_add_up(oracle, oracle->epochs->pdata[i]);
}

/* --- the end --- */

/* "Messages due that have no fate" are lost: after days of calm nothing older waits. */
static void row_waits(const TxResult *result, void *context)
{
    Oracle *oracle = context;

    trace_break(oracle->trace, "every message finds its fate", "%s %s is still %s", result->text[1],
                result->text[0], result->text[2]);
}

static bool waiting_job(Tx *tx, void *context)
{
    Oracle *oracle = context;

    tx_select(tx, "SELECT id, kind, state FROM outbox WHERE at < ?1", row_waits, oracle, "i",
              sim_now(oracle->clinic) - DAY);
    return false;
}

/* Two who share a phone are told by one text. */
static bool is_one_phone(const Oracle *oracle, const char *one, const char *other)
{
    const ModelClient *left = model_client(oracle->model, one);
    const ModelClient *right = model_client(oracle->model, other);

    return left != NULL && right != NULL && g_strcmp0(left->phone, right->phone) == 0;
}

/* "For signs and pain the client is told: stop, ring the clinic." */
static void a_warning_sign_is_answered(Oracle *oracle)
{
    GHashTableIter iter, inner;
    void *reply, *client, *value;

    g_hash_table_iter_init(&iter, oracle->warned);
    while (g_hash_table_iter_next(&iter, &reply, &client)) {
        const ModelReply *said = g_hash_table_lookup(oracle->model->replies, reply);
        bool answered = false;
        g_hash_table_iter_init(&inner, oracle->model->messages);
        while (!answered && g_hash_table_iter_next(&inner, NULL, &value)) {
            const ModelMessage *message = value;
            answered = g_strcmp0(message->kind, "safety") == 0 &&
                       is_one_phone(oracle, message->client, client) &&
                       message->fate_seq > said->read_seq;
        }
        if (!answered)
            trace_break(oracle->trace, "a warning sign is answered", "'%s' of client %s",
                        said->text, (const char *)client);
    }
}

static void every_word_is_in_the_ledger(Oracle *oracle)
{
    GHashTableIter iter;
    void *id, *first;

    g_hash_table_iter_init(&iter, oracle->groups);
    while (g_hash_table_iter_next(&iter, &id, &first))
        if (GPOINTER_TO_INT(g_hash_table_lookup(oracle->counts, first)) != 1)
            trace_break(oracle->trace, "every reply the world sent is in the ledger", "%s",
                        (const char *)id);
}

void oracle_end(Oracle *oracle)
{
    oracle_compare(oracle);
    device_look(oracle->clinic->device, waiting_job, oracle);
    a_warning_sign_is_answered(oracle);
    every_word_is_in_the_ledger(oracle);
}
