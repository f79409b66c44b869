/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/prove.h"

#include <sodium.h>
#include <string.h>

#include "adapters/store/migrate.h"
#include "adapters/store/scratch.h"
#include "adapters/store/sql.h"
#include "adapters/store/tally.h"
#include "core/ledger/row.h"

/* Of one subject more are not held in memory, 10 MB or so: "clinic" has every message to a clinician. */
#define ROWS_MOST 10000

/* A row of the subject; or one that was asked for, and was not there when it was: then row is its key. */
typedef struct {
    Row *row;
    bool there;
} Held;

struct Proof {
    Tx *tx;          /* of the tables */
    Tx *twin;        /* by which the events are walked beside it; NULL: by tx */
    GThread *thread; /* that does so; NULL: none */

    Tx *from;         /* twin, or tx */
    Tx *scratch;      /* what stands for all, and what is too much to be held */
    GHashTable *held; /* set of Held: the rows of the subject at hand */
    bool spilled;     /* some of them lie in scratch */
    FoldTables tables;
    char *subject;
    bool refused;
    int64_t events; /* that were walked */
    Tally given;    /* what they give */
    int next;       /* table that nobody sums up yet, atomic */
    Tally summed;   /* what those hold that the thread took when it had folded all */
};

static bool stands_for_all(TableId id)
{
    return id == TABLE_ERASED || id == TABLE_BOUNDED || id == TABLE_SAME;
}

/* --- rows of one subject ---------------------------------------------------------------------------- */

static guint held_hash(const void *held)
{
    return row_hash_key(((const Held *)held)->row);
}

static gboolean held_equal(const void *a, const void *b)
{
    const Row *one = ((const Held *)a)->row, *other = ((const Held *)b)->row;

    return row_table(one) == row_table(other) && row_compare_key(one, other) == 0;
}

static void held_free(void *gone)
{
    Held *held = gone;

    row_free(held->row);
    g_free(held);
}

static Held *find(const Proof *proof, const Row *key)
{
    const Held sought = {.row = (Row *)key};

    return g_hash_table_lookup(proof->held, &sought);
}

static Held *hold(Proof *proof, const Row *row, bool there)
{
    Held *held = g_new(Held, 1);

    *held = (Held){.row = row_copy(row), .there = there};
    g_hash_table_add(proof->held, held);
    return held;
}

/* There are too many of them: those that are there go into scratch. */
static void spill(Proof *proof)
{
    GHashTableIter iter;
    void *held;

    proof->spilled = true;
    g_hash_table_iter_init(&iter, proof->held);
    while (g_hash_table_iter_next(&iter, &held, NULL)) {
        if (!((const Held *)held)->there) continue;
        engine_put_row(proof->scratch, ((const Held *)held)->row);
        g_hash_table_iter_remove(&iter);
    }
    if (g_hash_table_size(proof->held) > ROWS_MOST / 2) proof->refused = true;
}

static Row *get(void *context, const Row *key)
{
    Proof *proof = context;

    if (stands_for_all(row_table(key))) return tx_get(proof->scratch, key);
    const Held *held = find(proof, key);
    if (held != NULL) return held->there ? row_copy(held->row) : NULL;
    Row *row = proof->spilled ? tx_get(proof->scratch, key) : NULL;
    if (row == NULL) hold(proof, key, false);
    return row;
}

static void put(void *context, const Row *row)
{
    Proof *proof = context;

    if (stands_for_all(row_table(row))) {
        engine_put_row(proof->scratch, row);
        return;
    }
    Held *held = find(proof, row);
    if (held == NULL) {
        hold(proof, row, true);
    } else {
        row_free(held->row);
        *held = (Held){.row = row_copy(row), .there = true};
    }
    if (g_hash_table_size(proof->held) > ROWS_MOST) spill(proof);
}

static const char *one(void *context, const char *client)
{
    return tx_one(((Proof *)context)->scratch, client);
}

/* --- a subject ends ----------------------------------------------------------------------------------- */

static void tally_table(Tx *tx, Tally *tally, TableId id)
{
    g_autofree char *sql = sql_select(id);
    Statement *statement = engine_walk(tx, sql);

    while (engine_step(tx, statement))
        tally_result(tally, statement, id);
    engine_give_back(statement, true);
}

static void take_back(Proof *proof)
{
    spill(proof);
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        if (table_of(id)->local || stands_for_all(id)) continue;
        g_autofree char *empty = g_strconcat("DELETE FROM ", table_of(id)->name, NULL);
        tally_table(proof->scratch, &proof->given, id);
        engine_exec(proof->scratch, empty);
    }
    proof->spilled = false;
}

/* Is the row that was asked for and not there another subject's? */
static void look_for(Proof *proof, const Row *key)
{
    g_autoptr(Row) row = tx_get(proof->from, key);

    if (row != NULL) proof->refused = true;
}

static void end_subject(Proof *proof)
{
    GHashTableIter iter;
    void *at;

    if (proof->spilled) take_back(proof);
    g_hash_table_iter_init(&iter, proof->held);
    while (g_hash_table_iter_next(&iter, &at, NULL)) {
        const Held *held = at;
        if (held->there)
            tally_row(&proof->given, held->row);
        else
            look_for(proof, held->row);
    }
    g_hash_table_remove_all(proof->held);
}

/* --- all subjects --------------------------------------------------------------------------------------- */

static bool goes_on(const Proof *proof)
{
    return !proof->refused && proof->from->bad == STORE_OK && proof->scratch->bad == STORE_OK;
}

static bool fold_in(const Event *event, void *context)
{
    Proof *proof = context;
    if (!engine_is_whole(event)) return true;
    Event seen = tx_seen(proof->scratch, event);
    fold_event(&proof->tables, &seen);
    return goes_on(proof);
}

/* Clients of several ids first, each with all of them. */
static void fold_same(Proof *proof)
{
    g_autoptr(GPtrArray) ids = same_known(engine_same(proof->scratch));
    g_autofree char *before = NULL;

    for (guint i = 0; i < ids->len && goes_on(proof); i++) {
        const char *client = tx_one(proof->scratch, ids->pdata[i]);
        if (g_strcmp0(before, client) != 0) {
            end_subject(proof);
            g_free(before);
            before = g_strdup(client);
        }
        tx_events(proof->from, "subject = ?1", fold_in, proof, "t", (const char *)ids->pdata[i]);
    }
    end_subject(proof);
}

static void fold_rest(Proof *proof)
{
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event ORDER BY subject", NULL);
    Statement *statement = engine_walk(proof->from, sql);
    bool done = false; /* by fold_same */
    Event event;

    for (; goes_on(proof) && engine_step(proof->from, statement); proof->events++) {
        engine_read_event(statement, &event);
        if (!engine_is_whole(&event)) continue;
        if (g_strcmp0(proof->subject, event.subject) != 0) {
            end_subject(proof);
            g_free(proof->subject);
            proof->subject = g_strdup(event.subject);
            done = same_knows(engine_same(proof->scratch), event.subject);
        }
        if (!done) fold_in(&event, proof);
    }
    engine_give_back(statement, true);
    end_subject(proof);
}

/* Sums up what all events give; inside a transaction of from. */
static void fold_all(Proof *proof)
{
    if (!goes_on(proof) || !migrate_fold_first(proof->from, proof->scratch)) return;
    fold_same(proof);
    fold_rest(proof);
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (stands_for_all(id)) tally_table(proof->scratch, &proof->given, id);
}

/* Sums up one table after the other, as long as there are any that the other has not taken. */
static void tally_tables(Proof *proof, Tx *tx, Tally *held)
{
    TableId id;

    while ((id = (TableId)g_atomic_int_add(&proof->next, 1)) < TABLE_COUNT)
        if (!table_of(id)->local) tally_table(tx, held, id);
}

static void *run_thread(void *data)
{
    Proof *proof = data;

    if (!engine_exec(proof->twin, "BEGIN")) return NULL;
    fold_all(proof);
    if (goes_on(proof)) tally_tables(proof, proof->twin, &proof->summed);
    return NULL;
}

/* Where there can be no second connection, or no thread, tx does it afterwards. */
static void begin_thread(Proof *proof, Tx *tx)
{
    Driver *second = tx->driver->calls->twin != NULL ? tx->driver->calls->twin(tx->driver) : NULL;

    if (second == NULL) return;
    proof->from = proof->twin = engine_new(second);
    proof->thread = g_thread_try_new("fold", run_thread, proof, NULL);
    if (proof->thread != NULL) return;
    engine_free(g_steal_pointer(&proof->twin));
    proof->from = tx;
}

Proof *prove_begin(Tx *tx)
{
    Proof *proof = g_new0(Proof, 1);
    uint8_t key[TALLY_KEY_BYTES];

    *proof = (Proof){.tx = tx,
                     .from = tx,
                     .scratch = scratch_new(),
                     .held = g_hash_table_new_full(held_hash, held_equal, held_free, NULL),
                     .tables = {.get = get, .put = put, .one = one, .context = proof}};
    randombytes_buf(key, sizeof key);
    tally_begin(&proof->given, key);
    tally_begin(&proof->summed, key);
    begin_thread(proof, tx);
    return proof;
}

static void wait_for_thread(Proof *proof)
{
    if (proof->thread != NULL) g_thread_join(g_steal_pointer(&proof->thread));
}

bool prove_tables(Proof *proof, int64_t events)
{
    bool equal = true;
    Tally held;

    tally_begin(&held, proof->given.key);
    tally_tables(proof, proof->tx, &held);
    wait_for_thread(proof);
    tally_join(&held, &proof->summed);
    if (proof->twin == NULL) fold_all(proof);
    for (TableId id = 0; id < TABLE_COUNT; id++)
        equal = equal && tally_is_equal(&proof->given, &held, id);
    tally_end(&held);
    return equal && goes_on(proof) && proof->tx->bad == STORE_OK && proof->events == events;
}

void prove_end(Proof *proof)
{
    wait_for_thread(proof);
    engine_free(proof->scratch);
    engine_free(proof->twin);
    tally_end(&proof->given);
    tally_end(&proof->summed);
    g_hash_table_unref(proof->held);
    g_free(proof->subject);
    g_free(proof);
}
