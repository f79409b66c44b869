/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/migrate.h"

#include <string.h>

#include "adapters/store/anew.h"
#include "adapters/store/gather.h"
#include "adapters/store/sql.h"

static bool has_column(Tx *tx, const char *table, const char *column)
{
    return tx->driver->calls->has_column(tx->driver, table, column);
}

char *migrate_lacking(Tx *tx)
{
    g_auto(GStrv) events = g_strsplit(ENGINE_EVENT_COLUMNS, ", ", -1);

    for (int i = 0; events[i] != NULL; i++)
        if (!has_column(tx, "event", events[i]))
            return g_strdup_printf("its events lack %s", events[i]);
    if (has_column(tx, "meta", "key") && has_column(tx, "meta", "value")) return NULL;
    return g_strdup("its table meta is missing");
}

int migrate_version(Tx *tx)
{
    g_autofree char *version = tx_meta(tx, "schema");

    /* a flipped bit makes none that was */
    bool whole = version != NULL && *version != '0' && strlen(version) < 4 &&
                 strspn(version, "0123456789") == strlen(version);
    return whole ? (int)g_ascii_strtoll(version, NULL, 10) : 0;
}

/* The derived tables, and the cards, which are copies of them. */
static bool is_folded(TableId id)
{
    return !table_of(id)->local || id == TABLE_CARD;
}

bool migrate_make_tables(Tx *tx, bool local)
{
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        if (!local && !is_folded(id)) continue;
        g_autoptr(GPtrArray) statements = sql_create(tx->driver->dialect, id);
        for (guint i = 0; i < statements->len; i++)
            if (!engine_exec(tx, statements->pdata[i])) return false;
    }
    return true;
}

bool migrate_make_all(Tx *tx)
{
    const Dialect *dialect = tx->driver->dialect;
    g_autoptr(GPtrArray) events = sql_create_events(dialect);

    if (dialect->mark != NULL) engine_exec(tx, dialect->mark);
    for (guint i = 0; i < events->len; i++)
        engine_exec(tx, events->pdata[i]);
    return tx->bad == STORE_OK && migrate_make_tables(tx, true);
}

static bool fold_some(Tx *from, Tx *into, const char *which)
{
    g_autofree char *sql = g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event", which, NULL);
    Statement *statement = engine_walk(from, sql);
    FoldTables tables = engine_tables(into);
    Event event;

    while (into->bad == STORE_OK && engine_step(from, statement)) {
        engine_read_event(statement, &event);
        if (!engine_is_whole(&event)) continue;
        Event seen = tx_seen(into, &event);
        /* elsewhere the events are not beside the tables, and nothing is written twice */
        into->folding = from == into ? event.subject : NULL;
        fold_event(&tables, &seen);
        into->folding = NULL;
    }
    engine_give_back(statement, true);
    engine_forget(into);
    return from->bad == STORE_OK && into->bad == STORE_OK;
}

bool migrate_fold_first(Tx *from, Tx *into)
{
    return fold_some(from, into, " WHERE kind = 'clock.bounded'") &&
           fold_some(from, into, " WHERE kind = 'client.same_as'");
}

bool migrate_fold_into(Tx *from, Tx *into)
{
    return migrate_fold_first(from, into) &&
           fold_some(from, into, " WHERE kind NOT IN ('clock.bounded', 'client.same_as')");
}

bool migrate_refold(Tx *tx)
{
    tx->people_moves++;
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        g_autofree char *drop = g_strdup_printf("DROP TABLE IF EXISTS %s", table_of(id)->name);
        if (is_folded(id) && !engine_exec(tx, drop)) return false;
    }
    if (tx->rows != NULL) rows_forget(tx->rows);
    if (!migrate_make_tables(tx, false) || !migrate_fold_into(tx, tx)) return false;
    anew_keep(tx);
    return true;
}

void tx_catch_up(Tx *tx)
{
    gather_flush(tx);
    if (!anew_fold(tx) && tx->refold) migrate_refold(tx);
    tx->refold = false;
}

/* Version 2 counts alert.passed by rows of their own and breaks ties of stamps by seq: derived
 * tables only. */
static bool to_2(Tx *tx)
{
    return migrate_refold(tx);
}

static bool make_local(Tx *tx, TableId id)
{
    g_autoptr(GPtrArray) statements = sql_create(tx->driver->dialect, id);

    for (guint i = 0; i < statements->len; i++)
        if (!engine_exec(tx, statements->pdata[i])) return false;
    return true;
}

/* Version 3 knows who may enter the page and what they looked at, and finds a day's sessions. */
static bool to_3(Tx *tx)
{
    static const TableId FRESH[] = {TABLE_ACCOUNT, TABLE_LOOK};

    for (size_t i = 0; i < G_N_ELEMENTS(FRESH); i++)
        if (!make_local(tx, FRESH[i])) return false;
    return engine_exec(tx, "CREATE INDEX IF NOT EXISTS session_3 ON session (utc)");
}

/* Columns that the table has got since, empty. */
static bool add_columns(Tx *tx, TableId id)
{
    const Table *table = table_of(id);

    for (int i = table->keys; i < table->columns; i++) {
        g_autofree char *add = sql_add_column(tx->driver->dialect, id, i);
        if (!has_column(tx, table->name, table->column[i].name) && !engine_exec(tx, add))
            return false;
    }
    return true;
}

/* A local table is made anew, with the rows that it had. */
static bool remake_local(Tx *tx, TableId id)
{
    if (!add_columns(tx, id)) return false;

    const char *name = table_of(id)->name;
    g_autofree char *select = sql_select(id);
    g_autofree char *keep = g_strdup_printf("CREATE TEMP TABLE kept AS %s", select);
    g_autofree char *drop = g_strdup_printf("DROP TABLE %s", name);
    g_autofree char *fill = g_strdup_printf("INSERT INTO %s SELECT * FROM kept ORDER BY 1", name);

    return engine_exec(tx, keep) && engine_exec(tx, drop) && make_local(tx, id) &&
           engine_exec(tx, fill) && engine_exec(tx, "DROP TABLE kept");
}

/* Version 4 keeps long rows in the order of their making, and indexes of the outbox hold only what waits. */
static bool to_4(Tx *tx)
{
    return migrate_refold(tx) && remake_local(tx, TABLE_OUTBOX);
}

/* Version 5 knows several replicas: erasures, bounds on stamps, peers. */
static bool to_5(Tx *tx)
{
    return make_local(tx, TABLE_PEER) && migrate_refold(tx);
}

/* Version 6 knows which gateway may hold a message already, early receipts and wrong codes, and of a mail what it answers and
 * whether a person wrote it. */
static bool to_6(Tx *tx)
{
    return add_columns(tx, TABLE_OUTBOX) && make_local(tx, TABLE_WRONG_CODE) &&
           make_local(tx, TABLE_RECEIPT) && migrate_refold(tx);
}

/* No table had more of them. */
#define INDEXES_BEFORE 6

/* A table's indexes are made anew, as they are declared now. */
static bool remake_indexes(Tx *tx, TableId id)
{
    g_autoptr(GPtrArray) statements = sql_create(tx->driver->dialect, id);

    for (int number = 1; number <= INDEXES_BEFORE; number++) {
        g_autofree char *drop =
            g_strdup_printf("DROP INDEX IF EXISTS %s_%d", table_of(id)->name, number);
        if (!engine_exec(tx, drop)) return false;
    }
    for (guint i = 1; i < statements->len; i++)
        if (!engine_exec(tx, statements->pdata[i])) return false;
    return true;
}

/* Version 7 has fewer indexes: each cost something for every reminder, and nothing needed it. */
static bool to_7(Tx *tx)
{
    return remake_indexes(tx, TABLE_SESSION) && remake_indexes(tx, TABLE_OUTBOX) &&
           engine_exec(tx, "DROP INDEX IF EXISTS event_stamp");
}

/* Version 8 knows that several ids can be one client's. Another replica may have said so already. */
static bool to_8(Tx *tx)
{
    return migrate_refold(tx);
}

/* Version 9 keeps cards of clients. */
static bool to_9(Tx *tx)
{
    return has_column(tx, table_of(TABLE_CARD)->name, "client") || make_local(tx, TABLE_CARD);
}

/* Version 10 knows whether an event names what is another subject's. */
static bool to_10(Tx *tx)
{
    return migrate_refold(tx);
}

/* Version 11 finds no due rows by their client: nothing that is done often asked for it. */
static bool to_11(Tx *tx)
{
    return remake_indexes(tx, TABLE_DUE);
}

static bool (*const STEPS[])(Tx *) = {
    [1] = to_2, [2] = to_3, [3] = to_4, [4] = to_5,  [5] = to_6,
    [6] = to_7, [7] = to_8, [8] = to_9, [9] = to_10, [10] = to_11};

G_STATIC_ASSERT(G_N_ELEMENTS(STEPS) == SCHEMA_VERSION);

static bool step_forward(Tx *tx, int version)
{
    if (!engine_begin(tx)) return false;
    for (int at = version; at < SCHEMA_VERSION; at++) {
        g_autofree char *reached = g_strdup_printf("%d", at + 1);

        if (!STEPS[at](tx)) break;
        tx_set_meta(tx, "schema", reached);
    }
    return engine_commit(tx);
}

static bool is_whole(Tx *tx)
{
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        const Table *table = table_of(id);

        for (int i = 0; i < table->columns; i++) {
            if (has_column(tx, table->name, table->column[i].name)) continue;
            g_free(tx->problem);
            tx->problem = g_strdup_printf("table %s lacks %s", table->name, table->column[i].name);
            return false;
        }
    }
    return true;
}

bool migrate_forward(Tx *tx)
{
    int version = migrate_version(tx);

    if (version < 1 || version > SCHEMA_VERSION) {
        g_free(tx->problem);
        tx->problem = g_strdup_printf("its version is %d", version);
        return false;
    }
    if (version < SCHEMA_VERSION && !step_forward(tx, version)) return false;
    return is_whole(tx);
}
