/* SPDX-License-Identifier: Apache-2.0 */
/* The rules of docs/sync.md, looked at from the events alone: what may leave, from whom, and what is so once all have heard of
 * everything. */
#include <string.h>

#include "adapters/store/store_memory.h"
#include "adapters/store/store_sqlite.h"
#include "core/ledger/same.h"
#include "daemon/desk/sender.h"
#include "tests/sim/apart_inside.h"
#include "tests/support/ledger_rebuild.h"

/* --- what may leave --- */

typedef struct {
    Same *same;
    GHashTable *lifted; /* ids of bars */
    GPtrArray *bars;    /* of Event */
    GPtrArray *duties;  /* of Event */
} Known;

static bool learn(const Event *event, void *context)
{
    Known *known = context;
    json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;
    const char *of = json_string_value(json_object_get(body, "of"));
    size_t i;
    json_t *id;

    if (strcmp(event->kind, "client.same_as") == 0 && of != NULL)
        same_add(known->same, event->subject, of);
    else if (strcmp(event->kind, "sender.taken") == 0)
        g_ptr_array_add(known->duties, event_copy(event));
    else if (json_is_array(json_object_get(body, "ends")) &&
             strcmp(event->kind, "client.stop") != 0)
        json_array_foreach(json_object_get(body, "ends"), i, id)
            g_hash_table_add(known->lifted, g_strdup(json_string_value(id)));
    else
        g_ptr_array_add(known->bars, event_copy(event));
    json_decref(body);
    return true;
}

static const char *bar_in_force(const Known *known, const char *client)
{
    const char *one = same_one(known->same, client);
    const char *worst = NULL;

    for (guint i = 0; i < known->bars->len; i++) {
        const Event *bar = known->bars->pdata[i];
        g_autofree char *id = event_id(bar);
        if (strcmp(same_one(known->same, bar->subject), one) != 0 ||
            g_hash_table_contains(known->lifted, id))
            continue;
        if (worst == NULL || strcmp(bar->kind, "client.stop") == 0 ||
            strcmp(bar->kind, "client.erase") == 0)
            worst = bar->kind;
    }
    return worst;
}

static int64_t epoch_of(const Event *event)
{
    json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;
    int64_t epoch = json_integer_value(json_object_get(body, "epoch"));

    json_decref(body);
    return epoch;
}

/* Does the replica know, of the greatest epoch that it has heard of, that it took it? Before any, the first one sends. */
static bool has_duty(const Known *known, const Replica *replica)
{
    int64_t greatest = 0;
    bool own = replica->number == 0;

    for (guint i = 0; i < known->duties->len; i++) {
        const Event *duty = known->duties->pdata[i];
        int64_t epoch = epoch_of(duty);
        if (epoch > greatest) own = false;
        if (epoch >= greatest) own = own || strcmp(duty->replica, replica->id) == 0;
        greatest = MAX(greatest, epoch);
    }
    return own;
}

typedef struct {
    Apart *apart;
    const char *message;
} Leaving;

static void judge(const Leaving *leaving, const Known *known, const Row *row)
{
    static const char *const ALWAYS[] = {"safety", "stopped", "help", NULL};
    Apart *apart = leaving->apart;
    const Replica *replica = &apart->replica[apart->writing];
    const char *client = row_text(row, OUTBOX_CLIENT), *kind = row_text(row, OUTBOX_KIND);

    if (!has_duty(known, replica))
        trace_break(apart->trace, "who has not the duty sends nothing", "replica %d sent %s",
                    replica->number, kind);
    if (client == NULL || strcmp(kind, "alert") == 0) return; /* to clinicians */
    apart->tally->messages++;
    const char *bar = bar_in_force(known, client);
    bool asks = strcmp(kind, "reminder") == 0 || strcmp(kind, "nudge") == 0;
    bool stopped =
        bar != NULL && (strcmp(bar, "client.stop") == 0 || strcmp(bar, "client.erase") == 0);
    if (asks && bar != NULL)
        trace_break(apart->trace, "no reminder under a bar", "%s to %s under %s", kind, client,
                    bar);
    if (stopped && !g_strv_contains(ALWAYS, kind))
        trace_break(apart->trace, "no message to who wants none", "%s to %s under %s", kind, client,
                    bar);
}

static bool look_job(Tx *tx, void *context)
{
    const Leaving *leaving = context;
    Known known = {.same = same_new(),
                   .lifted = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
                   .bars = g_ptr_array_new_with_free_func((GDestroyNotify)event_free),
                   .duties = g_ptr_array_new_with_free_func((GDestroyNotify)event_free)};
    g_autoptr(Row) row = tx_get_text(tx, TABLE_OUTBOX, leaving->message);

    tx_events(tx,
              "kind IN ('client.same_as', 'sender.taken', 'client.stop', 'client.pause', "
              "'client.suspend', 'client.end', 'hold.set', 'client.erase', 'client.start', "
              "'client.resume', 'hold.lift')",
              learn, &known, "");
    if (row != NULL) judge(leaving, &known, row);
    same_free(known.same);
    g_hash_table_unref(known.lifted);
    g_ptr_array_unref(known.bars);
    g_ptr_array_unref(known.duties);
    return true;
}

void apart_written(const Written *written, void *context)
{
    Leaving leaving = {context, written->id};
    Apart *apart = context;

    if (written->id != NULL)
        store_memory_look(apart->replica[apart->writing].store, look_job, &leaving);
}

/* --- once all have heard of everything --- */

typedef struct {
    char *dump;
    char *rebuilt;
    bool sends;
    int events;
} State;

static bool state_job(Job *job, void *context)
{
    State *state = context;
    g_autofree char *dump = tx_dump(job->tx);
    g_autoptr(GArray) vector = tx_vector(job->tx);

    state->dump = ledger_sorted(dump);
    state->rebuilt = ledger_rebuilt(job->tx);
    state->sends = sender_is_here(job->tx);
    for (guint i = 0; i < vector->len; i++)
        state->events += (int)g_array_index(vector, VectorEntry, i).seq;
    return true;
}

static void tell_difference(Apart *apart, const char *rule, const char *one, const char *other)
{
    g_auto(GStrv) a = g_strsplit(one, "\n", -1), b = g_strsplit(other, "\n", -1);
    int i = 0;

    while (a[i] != NULL && b[i] != NULL && strcmp(a[i], b[i]) == 0)
        i++;
    trace_break(apart->trace, rule, "\n  %s\n  %s", a[i] != NULL ? a[i] : "(no more)",
                b[i] != NULL ? b[i] : "(no more)");
}

static void compare(Apart *apart, const State *states)
{
    int senders = 0;

    for (int i = 0; i < apart->replicas; i++) {
        senders += states[i].sends;
        if (strcmp(states[0].dump, states[i].dump) != 0)
            tell_difference(apart, "all replicas have the same tables", states[0].dump,
                            states[i].dump);
        if (strcmp(states[i].dump, states[i].rebuilt) != 0)
            tell_difference(apart, "the tables are what the events give", states[i].dump,
                            states[i].rebuilt);
    }
    if (senders != 1)
        trace_break(apart->trace, "one replica has the duty to send", "%d have", senders);
    apart->tally->events += states[0].events;
}

void apart_judge(Apart *apart)
{
    State states[REPLICAS_MOST] = {0};

    for (int i = 0; i < apart->replicas; i++)
        apart_job(&apart->replica[i], state_job, &states[i]);
    compare(apart, states);
    for (int i = 0; i < apart->replicas; i++) {
        g_free(states[i].dump);
        g_free(states[i].rebuilt);
    }
}
