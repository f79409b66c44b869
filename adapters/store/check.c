/* SPDX-License-Identifier: Apache-2.0 */
/* `osier check`: is the database whole, does each replica's chain hold, and do the events give the tables that are there? That
 * they do is proven by sums (prove.h), in a thread beside the rest. Where it is not, all events are folded into tables of a
 * temporary database, and these are compared row by row. Each part reads in a transaction of its own, which an error may end. */
#include "adapters/store/check.h"

#include "adapters/store/migrate.h"
#include "adapters/store/open.h"
#include "adapters/store/prove.h"
#include "adapters/store/scratch.h"
#include "adapters/store/sql.h"
#include "adapters/store/sqlite.h"
#include "core/ledger/chain.h"
#include "core/ledger/row.h"

/* More findings than a person reads. */
#define FINDINGS_MAX 100

static void find(GPtrArray *findings, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void find(GPtrArray *findings, const char *format, ...)
{
    va_list arguments;

    if (findings->len >= FINDINGS_MAX) return;
    va_start(arguments, format);
    g_ptr_array_add(findings, g_strdup_vprintf(format, arguments));
    va_end(arguments);
}

static void check_database(Tx *tx, GPtrArray *findings)
{
    const char *look_over = tx->driver->dialect->look_over;

    if (look_over == NULL) return;
    Statement *statement = engine_prepare(tx, look_over);
    while (engine_step(tx, statement)) {
        const char *line = statement_text(statement, 0);

        if (strcmp(line, "ok") != 0) find(findings, "database: %s", line);
    }
    engine_give_back(statement, false);
}

/* Where the walk along the chains stands. */
typedef struct {
    char *replica;
    int64_t seq;
    uint8_t digest[DIGEST_BYTES];
} Walk;

static void check_link(Walk *walk, const Event *event, GPtrArray *findings)
{
    if (g_strcmp0(walk->replica, event->replica) != 0) {
        g_free(walk->replica);
        walk->replica = g_strdup(event->replica);
        walk->seq = 0;
        memset(walk->digest, 0, sizeof walk->digest);
    }
    if (event->seq != walk->seq + 1)
        find(findings,
             "event %s:%" G_GINT64_FORMAT ": missing: the chain goes on at %" G_GINT64_FORMAT,
             event->replica, walk->seq + 1, event->seq);
    else if (!chain_holds(event, walk->digest))
        find(findings, "event %s:%" G_GINT64_FORMAT ": changed: its hash does not hold",
             event->replica, event->seq);
    walk->seq = event->seq;
    memcpy(walk->digest, event->digest, DIGEST_BYTES);
}

static int64_t check_chains(Tx *tx, GPtrArray *findings)
{
    g_autofree char *sql =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event ORDER BY replica, seq", NULL);
    Statement *statement = engine_walk(tx, sql);
    Walk walk = {0};
    int64_t events = 0;
    Event event;

    for (; engine_step(tx, statement); events++) {
        engine_read_event(statement, &event);
        if (!engine_is_whole(&event))
            find(findings, "event number %" G_GINT64_FORMAT ": a part of it is missing",
                 events + 1);
        else
            check_link(&walk, &event, findings);
    }
    engine_give_back(statement, true);
    g_free(walk.replica);
    return events;
}

static Row *next_row(Tx *tx, Statement *statement, TableId id)
{
    return engine_step(tx, statement) ? engine_read_row(statement, id) : NULL;
}

static void find_row(GPtrArray *findings, const Row *row, const char *what)
{
    const Table *table = table_of(row_table(row));
    GString *key = g_string_new(NULL);

    for (int i = 0; i < table->keys; i++) {
        g_string_append(key, i > 0 ? " " : "");
        if (table->column[i].type == COLUMN_TEXT)
            g_string_append(key, row_is_null(row, i) ? "(none)" : row_text(row, i));
        else
            g_string_append_printf(key, "%" G_GINT64_FORMAT, row_int(row, i));
    }
    find(findings, "table %s: %s: %s", table->name, key->str, what);
    g_string_free(key, TRUE);
}

static bool is_equal(const Row *a, const Row *b)
{
    int order = 0;

    for (int i = 0; i < table_of(row_table(a))->columns && order == 0; i++)
        order = row_compare_value(a, b, i);
    return order == 0;
}

static void compare_table(Tx *held, Tx *folded, TableId id, GPtrArray *findings)
{
    g_autofree char *sql = sql_select_ordered(id);
    Statement *held_rows = engine_walk(held, sql), *folded_rows = engine_walk(folded, sql);
    Row *is = next_row(held, held_rows, id), *ought = next_row(folded, folded_rows, id);

    while (is != NULL || ought != NULL) {
        int order = is == NULL ? 1 : ought == NULL ? -1 : row_compare_key(is, ought);

        if (order < 0)
            find_row(findings, is, "no event gives this row");
        else if (order > 0)
            find_row(findings, ought, "missing, though events give it");
        else if (!is_equal(is, ought))
            find_row(findings, is, "differs from what the events give");
        if (order <= 0) {
            row_free(is);
            is = next_row(held, held_rows, id);
        }
        if (order >= 0) {
            row_free(ought);
            ought = next_row(folded, folded_rows, id);
        }
    }
    engine_give_back(held_rows, true);
    engine_give_back(folded_rows, true);
}

/* Every table row by row beside what all events give: tells each row that is not as it ought to be. */
static void compare_tables(Tx *tx, GPtrArray *findings)
{
    Tx *scratch = scratch_new();

    if (scratch->bad == STORE_OK && migrate_fold_into(tx, scratch))
        for (TableId id = 0; id < TABLE_COUNT; id++)
            if (!table_of(id)->local) compare_table(tx, scratch, id, findings);
    if (scratch->bad != STORE_OK)
        find(findings, "the events cannot be folded anew: %s", scratch->problem);
    engine_free(scratch);
}

static void write_tables(Tx *tx)
{
    if (engine_begin(tx) && migrate_refold(tx)) engine_commit(tx);
}

/* Ends a part's transaction. */
static void end_part(Tx *tx, GPtrArray *findings)
{
    if (tx->bad != STORE_OK) find(findings, "database: %s", tx->problem);
    tx->driver->calls->roll_back(tx->driver);
    tx->bad = STORE_OK;
}

OpenResult store_sqlite_renew(const char *path, const char *replica, int64_t now_ms, char **why)
{
    OpenRequest request = {.path = path, .checking = true};
    Tx *tx = NULL;
    OpenResult result = open_store_file(&request, &tx, why);

    if (result != OPEN_OK) return result;
    int64_t at_ms = tx->rehearsal ? tx->now : now_ms; /* of its last event */
    if (!engine_recall(tx, at_ms) || !engine_renew(tx, replica, at_ms)) {
        result = OPEN_CANNOT;
        *why = g_strdup_printf("%s: %s", path, tx->problem);
    }
    open_close(tx);
    return result;
}

int64_t check_store(Tx *tx, GPtrArray *findings)
{
    Proof *proof = prove_begin(tx);

    check_database(tx, findings);
    end_part(tx, findings);
    int64_t events = engine_exec(tx, "BEGIN") ? check_chains(tx, findings) : 0;
    end_part(tx, findings);
    if (engine_exec(tx, "BEGIN") && !prove_tables(proof, events)) compare_tables(tx, findings);
    end_part(tx, findings);
    prove_end(proof);
    return events;
}

/* What the log holds is put into the file, so that a second connection can read it. Where that cannot be, one does all. */
static void settle_log(const OpenRequest *request, Tx *tx)
{
    if (request->place == NULL && !open_checkpoint(tx, SQLITE_CHECKPOINT_TRUNCATE))
        tx->bad = STORE_OK;
}

OpenResult store_place_check(const StorePlace *place, bool rebuild, GPtrArray *findings,
                             int64_t *events, char **why)
{
    OpenRequest request = open_request(place);
    Tx *tx = NULL;
    OpenResult result = open_store(&request, &tx, why);

    *events = 0;
    if (result == OPEN_NO_STORE && request.damaged) {
        g_ptr_array_add(findings, g_steal_pointer(why));
        return OPEN_OK;
    }
    if (result != OPEN_OK) return result;
    settle_log(&request, tx);
    *events = check_store(tx, findings);
    if (rebuild) write_tables(tx);
    end_part(tx, findings);
    open_end(&request, tx);
    return result;
}

OpenResult store_sqlite_check(const char *path, bool rebuild, GPtrArray *findings, int64_t *events,
                              char **why)
{
    return store_place_check(&(StorePlace){.file = path}, rebuild, findings, events, why);
}
