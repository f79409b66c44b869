/* SPDX-License-Identifier: Apache-2.0 */
/* Statements: made once and kept by their text. */
#include "adapters/store/engine.h"
#include "adapters/store/gather.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

/* A table has fewer columns than this: which of them an update sets, and of which table, is one number. */
#define UPDATE_COLUMNS_MAX 56

void engine_error(Tx *tx)
{
    if (tx->bad != STORE_OK) return;
    g_clear_pointer(&tx->problem, g_free);
    tx->bad = tx->driver->calls->error(tx->driver, &tx->problem);
    tx->full = tx->full || store_passes(tx->bad);
    tx->failed = tx->failed || !store_passes(tx->bad);
}

static Statement *compile(Tx *tx, const char *sql)
{
    Statement *statement = tx->driver->calls->prepare(tx->driver, sql);

    if (statement == NULL) engine_error(tx);
    return statement;
}

Statement *engine_prepare(Tx *tx, const char *sql)
{
    Statement *statement = g_hash_table_lookup(tx->statements, sql);

    if (statement == NULL && tx->bad == STORE_OK) {
        statement = compile(tx, sql);
        if (statement != NULL) g_hash_table_insert(tx->statements, g_strdup(sql), statement);
    }
    return statement;
}

Statement *engine_walk(Tx *tx, const char *sql)
{
    gather_flush(tx);
    Statement *statement = tx->bad == STORE_OK ? tx->driver->calls->walk(tx->driver, sql) : NULL;

    if (statement == NULL) engine_error(tx);
    return statement;
}

/* Where a text may be found: a few places from one on, so that two that are in use at once do not push each other out. */
static Recent *recent_at(Tx *tx, const char *at, int table, int way)
{
    uintptr_t first = (uintptr_t)at / 8 + (uintptr_t)at / 1024 + (uintptr_t)(table + 1) * 37;

    return &tx->recent[(first + (uintptr_t)way) % RECENT_COUNT];
}

static Statement *find_recent(Tx *tx, const char *at, int table)
{
    for (int way = 0; way < RECENT_WAYS; way++) {
        const Recent *recent = recent_at(tx, at, table, way);
        if (recent->at == at && recent->table == table)
            return strcmp(recent->text, at) == 0 ? recent->statement : NULL;
    }
    return NULL;
}

/* The place of a text: its own, or a free one, or one of the others' in turn. */
static Recent *recent_place(Tx *tx, const char *at, int table)
{
    for (int way = 0; way < RECENT_WAYS; way++) {
        Recent *recent = recent_at(tx, at, table, way);
        if (recent->at == NULL || (recent->at == at && recent->table == table)) return recent;
    }
    return recent_at(tx, at, table, (int)(tx->recent_turn++ % RECENT_WAYS));
}

static Statement *note_recent(Tx *tx, const char *at, int table, Statement *statement)
{
    if (statement == NULL) return NULL;
    Recent *recent = recent_place(tx, at, table);
    g_free(recent->text);
    *recent = (Recent){.at = at, .table = table, .text = g_strdup(at), .statement = statement};
    return statement;
}

static Statement *lend(Tx *tx, Statement *statement, bool *own)
{
    *own = statement != NULL && statement->calls->is_busy(statement);
    if (!*own) return statement;
    Statement *twin = statement->calls->twin(statement);
    if (twin == NULL) engine_error(tx);
    return twin;
}

Statement *engine_borrow(Tx *tx, const char *sql, bool *own)
{
    gather_flush(tx);
    Statement *statement = find_recent(tx, sql, -1);

    if (statement == NULL) statement = note_recent(tx, sql, -1, engine_prepare(tx, sql));
    return lend(tx, statement, own);
}

Statement *engine_borrow_rows(Tx *tx, TableId table, const char *where, bool *own)
{
    gather_flush(tx);
    Statement *statement = find_recent(tx, where, (int)table);

    if (statement == NULL) {
        g_autofree char *select = sql_select(table);
        g_autofree char *tail = sql_tail(where);
        g_autofree char *sql = g_strconcat(select, tail, NULL);
        statement = note_recent(tx, where, (int)table, engine_prepare(tx, sql));
    }
    return lend(tx, statement, own);
}

Statement *engine_update(Tx *tx, TableId table, uint64_t changed)
{
    g_assert(changed >> UPDATE_COLUMNS_MAX == 0);
    int64_t key = (int64_t)(changed | (uint64_t)table << UPDATE_COLUMNS_MAX);
    Statement *statement = g_hash_table_lookup(tx->updates, &key);

    if (statement != NULL) return statement;
    g_autofree char *sql = sql_update(table, changed);
    statement = engine_prepare(tx, sql);
    if (statement != NULL) g_hash_table_insert(tx->updates, g_memdup2(&key, sizeof key), statement);
    return statement;
}

void engine_give_back(Statement *statement, bool own)
{
    if (statement == NULL) return;
    if (own)
        statement->calls->free(statement);
    else
        statement->calls->clear(statement);
}

bool engine_step(Tx *tx, Statement *statement)
{
    if (statement == NULL || tx->bad != STORE_OK) return false;
    Step step = statement->calls->step(statement);
    if (step == STEP_ERROR) engine_error(tx);
    return step == STEP_ROW;
}

void engine_quiet(Tx *tx, Statement *statement)
{
    if (statement == NULL) return;
    if (tx->bad == STORE_OK && statement->calls->quiet(statement) == STEP_ERROR) engine_error(tx);
    statement->calls->reset(statement);
}

/* A driver's own way; true where it went well. */
static bool do_own(Tx *tx, bool (*call)(Driver *driver))
{
    if (tx->bad == STORE_OK && !call(tx->driver)) engine_error(tx);
    return tx->bad == STORE_OK;
}

bool engine_begin(Tx *tx)
{
    if (tx->driver->calls->begin != NULL) return do_own(tx, tx->driver->calls->begin);
    return engine_exec(tx, tx->driver->dialect->begin);
}

bool engine_exec(Tx *tx, const char *sql)
{
    bool own;
    Statement *statement = engine_borrow(tx, sql, &own);

    engine_quiet(tx, statement);
    engine_give_back(statement, own);
    return tx->bad == STORE_OK;
}

bool engine_commit(Tx *tx)
{
    bool own;

    if (tx->driver->calls->commit != NULL) return do_own(tx, tx->driver->calls->commit);
    Statement *statement = engine_borrow(tx, "COMMIT", &own);

    engine_step(tx, statement);
    engine_give_back(statement, own);
    return tx->bad == STORE_OK;
}

void engine_bind_column(Statement *statement, const Row *row, int column)
{
    static const ValueType VALUE_OF[] = {
        [COLUMN_TEXT] = VALUE_TEXT, [COLUMN_INTEGER] = VALUE_INTEGER, [COLUMN_REAL] = VALUE_REAL};
    const Table *table = table_of(row_table(row));
    int at = column + 1;

    if (row_is_null(row, column)) {
        g_assert(column >= table->keys);
        statement->calls->bind_null(statement, at, VALUE_OF[table->column[column].type]);
        return;
    }
    switch (table->column[column].type) {
    case COLUMN_TEXT: statement_bind_text(statement, at, row_text(row, column)); break;
    case COLUMN_INTEGER: statement_bind_int(statement, at, row_int(row, column)); break;
    case COLUMN_REAL: statement->calls->bind_real(statement, at, row_real(row, column)); break;
    }
}

void engine_bind_row(Statement *statement, const Row *row, int columns)
{
    for (int i = 0; i < columns; i++)
        engine_bind_column(statement, row, i);
}

Row *engine_read_row(Statement *statement, TableId id)
{
    const StatementCalls *calls = statement->calls;
    const Table *table = table_of(id);
    Row *row = row_new(id);

    for (int i = 0; i < table->columns; i++) {
        if (calls->type(statement, i) == VALUE_NULL) continue;
        switch (table->column[i].type) {
        case COLUMN_TEXT: row_set_text(row, i, calls->text(statement, i)); break;
        case COLUMN_INTEGER: row_set_int(row, i, calls->integer(statement, i)); break;
        case COLUMN_REAL: row_set_real(row, i, calls->real(statement, i)); break;
        }
    }
    row_mark_stored(row);
    return row;
}

void engine_bind_arguments(Statement *statement, int first, const char *types, va_list arguments)
{
    for (int i = 0; types[i] != '\0'; i++) {
        switch (types[i]) {
        case 't': statement_bind_text(statement, first + i, va_arg(arguments, const char *)); break;
        case 'i': statement_bind_int(statement, first + i, va_arg(arguments, int64_t)); break;
        case 'r':
            statement->calls->bind_real(statement, first + i, va_arg(arguments, double));
            break;
        default: g_assert_not_reached();
        }
    }
}
