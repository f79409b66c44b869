/* SPDX-License-Identifier: Apache-2.0 */
/* The life of a connection: birth of a store, loading one, and running a batch of jobs as one
 * transaction. */
#include "adapters/store/engine.h"

#include "adapters/store/anew.h"
#include "adapters/store/gather.h"
#include "adapters/store/migrate.h"
#include "adapters/store/sql.h"
#include "core/ledger/chain.h"

static void free_statement(void *gone)
{
    Statement *statement = gone;

    statement->calls->free(statement);
}

Tx *engine_new(Driver *driver)
{
    Tx *tx = g_new0(Tx, 1);

    tx->driver = driver;
    tx->statements = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_statement);
    tx->updates = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    tx->ids = g_ptr_array_new_with_free_func(g_free);
    tx->heads = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    if (driver->dialect->far) tx->rows = rows_new();
    tx->gather = gather_new();
    tx->erasing = -1;
    return tx;
}

void engine_free(Tx *tx)
{
    if (tx == NULL) return;
    for (int i = 0; i < RECENT_COUNT; i++)
        g_free(tx->recent[i].text);
    g_hash_table_destroy(tx->updates);
    g_hash_table_destroy(tx->statements);
    g_ptr_array_free(tx->ids, TRUE);
    g_hash_table_destroy(tx->heads);
    if (tx->bounds != NULL) g_array_unref(tx->bounds);
    same_free(tx->same);
    anew_forget(tx);
    rows_free(tx->rows);
    gather_free(tx->gather);
    tx->driver->calls->close(tx->driver);
    g_free(tx->replica);
    g_free(tx->problem);
    g_free(tx->torn);
    g_free(tx);
}

static void roll_back(Tx *tx)
{
    tx->driver->calls->roll_back(tx->driver);
}

static void write_birth(Tx *tx, const char *replica, bool rehearsal, int64_t now_ms)
{
    if (!migrate_make_all(tx)) return;
    g_autofree char *version = g_strdup_printf("%d", SCHEMA_VERSION);
    tx_set_meta(tx, "schema", version);
    tx_set_meta(tx, "mode", rehearsal ? "rehearsal" : "live");
    tx_set_meta(tx, "replica", replica);
    tx->replica = g_strdup(replica);
    tx->rehearsal = rehearsal;
    tx->now = now_ms;
    tx_append(tx, "replica.joined", replica, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)now_ms));
    g_ptr_array_set_size(tx->ids, 0);
}

bool engine_birth(Tx *tx, const char *replica, bool rehearsal, int64_t now_ms)
{
    if (!engine_begin(tx)) return false;
    write_birth(tx, replica, rehearsal, now_ms);
    if (engine_commit(tx)) return true;
    roll_back(tx);
    engine_forget(tx);
    return false;
}

static void set_replica(Tx *tx, const char *replica)
{
    if (g_strcmp0(tx->replica, replica) == 0) return;
    g_free(tx->replica);
    tx->replica = g_strdup(replica);
}

static void write_renewal(Tx *tx, const char *replica, int64_t now_ms)
{
    tx_set_meta(tx, "replica", replica);
    tx_set_meta(tx, "joined", "1");
    engine_exec(tx, "DELETE FROM due");
    engine_exec(tx, "DELETE FROM code");
    engine_exec(tx, "DELETE FROM meta WHERE \"key\" = 'alive_at'");
    engine_forget(tx);
    set_replica(tx, replica);
    tx->head = (Head){.clock = tx->head.clock};
    tx->now = now_ms;
    tx_append(tx, "replica.joined", replica, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)now_ms));
    g_ptr_array_set_size(tx->ids, 0);
}

bool engine_renew(Tx *tx, const char *replica, int64_t now_ms)
{
    if (!engine_begin(tx)) return false;
    write_renewal(tx, replica, now_ms);
    if (tx->bad == STORE_OK && engine_commit(tx)) return true;
    roll_back(tx);
    engine_forget(tx);
    return false;
}

static bool complain(Tx *tx, const char *what)
{
    if (tx->bad != STORE_OK) return false;
    g_free(tx->problem);
    tx->problem = g_strdup(what);
    return false;
}

/* The last event of this replica must follow from the one before it. */
static bool load_head(Tx *tx)
{
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS,
                    " FROM event WHERE replica = ?1 ORDER BY seq DESC LIMIT 2", NULL);
    Statement *statement = engine_prepare(tx, sql);
    Event last = {0}, event;
    bool found = false, holds = false;

    if (statement == NULL) return false;
    statement_bind_text(statement, 1, tx->replica);
    g_autoptr(Event) kept = NULL;
    while (engine_step(tx, statement)) {
        engine_read_event(statement, &event);
        if (!found) {
            kept = event_copy(&event);
            last = *kept;
        } else {
            holds = event.seq == last.seq - 1 && chain_holds(&last, event.digest);
        }
        found = true;
    }
    engine_give_back(statement, false);
    if (found && last.seq == 1) holds = chain_holds(&last, NULL);
    tx->head = (Head){.seq = last.seq, .clock = {last.wall, last.logical}};
    memcpy(tx->head.digest, last.digest, DIGEST_BYTES);
    tx->now = MAX(tx->now, last.wall);
    return holds || complain(tx, "the end of its chain of events does not hold");
}

bool engine_load(Tx *tx)
{
    g_autofree char *mode = tx_meta(tx, "mode");
    g_autofree char *replica = tx_meta(tx, "replica");

    if (mode == NULL || replica == NULL) return complain(tx, "its mode and replica are missing");
    g_free(tx->replica);
    tx->replica = g_steal_pointer(&replica);
    tx->rehearsal = strcmp(mode, "rehearsal") == 0;
    return load_head(tx);
}

/* Is the end of this replica's chain where it was left? Its clock may be ahead of its last event: it saw others' stamps. */
static bool is_as_left(const Head *left, const Head *found)
{
    return left->seq == found->seq && memcmp(left->digest, found->digest, DIGEST_BYTES) == 0;
}

/* After the device was full: does a commit work again, and is the ledger where it was left? */
static bool probe(Tx *tx)
{
    Head before = tx->head;

    if (!tx->full) return true;
    if (engine_begin(tx)) {
        g_autofree char *at = g_strdup_printf("%" G_GINT64_FORMAT, tx->now);
        tx_set_meta(tx, "probe", at);
        engine_commit(tx);
    }
    if (tx->bad != STORE_OK) {
        roll_back(tx);
        return false;
    }
    bool holds = load_head(tx);
    if (tx->bad != STORE_OK) { /* gone again: nothing was learnt of it */
        tx->head = before;
        roll_back(tx);
        return false;
    }
    if (!holds || !is_as_left(&before, &tx->head)) {
        complain(tx, "the store failed: after the device was full it is not what it was");
        tx->bad = STORE_FAILED;
        tx->failed = true;
        return false;
    }
    tx->head.clock = before.clock;
    tx->full = false;
    return true;
}

/* Takes back what a job wrote. The first in its transaction needs no savepoint, which would copy every page that it changes;
 * then the transaction is begun anew. */
static void undo(Tx *tx, bool first)
{
    engine_exec(tx, first ? "ROLLBACK" : "ROLLBACK TO job");
    if (first) engine_begin(tx);
}

/* first: nothing that is to be kept was written in the transaction. */
static void run_one(Tx *tx, Job *job, bool first)
{
    Head before = tx->head;
    g_autofree char *replica = g_strdup(tx->replica);

    if (!first && !engine_exec(tx, "SAVEPOINT job")) return;
    tx->now = job->now;
    g_clear_pointer(&tx->torn, g_free);
    memset(tx->absent, 0, sizeof tx->absent);
    bool kept = job->job(tx, job->context);
    g_ptr_array_set_size(tx->ids, 0);
    tx_hear(tx, NULL, NULL);
    job->status = kept ? STORE_OK : STORE_UNDONE;
    if (kept) tx_catch_up(tx);
    tx->refold = false;
    if (!kept) {
        gather_forget(tx->gather);
        tx->head = before;
        set_replica(tx, replica);
        engine_forget(tx);
        anew_forget(tx);
        undo(tx, first);
    }
    if (!first) engine_exec(tx, "RELEASE job");
}

static void fail_all(GPtrArray *jobs, StoreStatus status)
{
    for (guint i = 0; i < jobs->len; i++)
        ((Job *)jobs->pdata[i])->status = status;
}

/* Where the store was left. */
typedef struct {
    Head head;
    char *replica;
} Place;

static void go_back(Tx *tx, const Place *place)
{
    gather_forget(tx->gather);
    roll_back(tx);
    tx->head = place->head;
    tx->clean = tx->refold = false;
    set_replica(tx, place->replica);
    engine_forget(tx);
    anew_forget(tx);
}

static void read_one(Tx *tx, Job *job, const Place *place)
{
    tx->bad = STORE_OK;
    if (engine_begin(tx)) run_one(tx, job, true);
    job->status = tx->bad == STORE_OK ? STORE_UNDONE : tx->bad;
    go_back(tx, place);
}

void engine_read(Tx *tx, GPtrArray *jobs)
{
    g_autofree char *replica = g_strdup(tx->replica);
    const Place place = {.head = tx->head, .replica = replica};
    StoreStatus before = tx->bad;

    tx->reading = true;
    for (guint i = 0; i < jobs->len && !tx->failed; i++)
        if (((Job *)jobs->pdata[i])->reads) read_one(tx, jobs->pdata[i], &place);
    tx->reading = false;
    tx->bad = tx->failed ? STORE_FAILED : before;
}

bool tx_is_reading(const Tx *tx)
{
    return tx->reading;
}

void engine_run(Tx *tx, GPtrArray *jobs)
{
    g_autofree char *replica = g_strdup(tx->replica);
    const Place place = {.head = tx->head, .replica = replica};

    tx->bad = tx->failed ? STORE_FAILED : STORE_OK;
    if (jobs->len > 0) tx->now = ((Job *)jobs->pdata[0])->now;
    bool tried = tx->bad == STORE_OK && probe(tx);
    if (tried && engine_begin(tx)) {
        bool first = true;
        for (guint i = 0; i < jobs->len && tx->bad == STORE_OK; i++) {
            run_one(tx, jobs->pdata[i], first);
            first = first && ((Job *)jobs->pdata[i])->status != STORE_OK;
        }
        engine_commit(tx);
    }
    if (tx->bad == STORE_OK) return;
    go_back(tx, &place);
    fail_all(jobs, tx->bad);
    if (!tried && tx->bad == STORE_FULL) engine_read(tx, jobs);
}
