/* SPDX-License-Identifier: Apache-2.0 */
/* Statements: made once, kept by their text, and every error of SQLite turned into what follows
 * from it. */
#include <errno.h>

#include "adapters/store/engine.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

/* A table has fewer columns than this: which of them an update sets, and of which table, is one number. */
#define UPDATE_COLUMNS_MAX 56

/* No room is a state that passes. A device that failed to write or sync has lied once: what SQLite
 * says after that is not to be believed (it reports the next commit as fine), so it stays failed.
 */
static bool is_no_room(Tx *tx, int code)
{
    if ((code & 0xff) == SQLITE_FULL) return true;
    if (code != SQLITE_IOERR_WRITE && code != SQLITE_IOERR_TRUNCATE) return false;
    int error = sqlite3_system_errno(tx->db);
    return error == EDQUOT || error == ENOSPC;
}

void engine_error(Tx *tx, int code)
{
    bool no_room = is_no_room(tx, code);

    if (tx->bad != STORE_OK) return;
    tx->bad = no_room ? STORE_FULL : STORE_FAILED;
    tx->full = tx->full || no_room;
    tx->failed = tx->failed || !no_room;
    g_free(tx->problem);
    tx->problem = no_room
                      ? g_strdup_printf("no room left on the device of the store (%s)",
                                        sqlite3_errmsg(tx->db))
                      : g_strdup_printf("the store failed: %s (SQLite %d): nothing more is written",
                                        sqlite3_errmsg(tx->db), code);
}

static sqlite3_stmt *compile(Tx *tx, const char *sql, unsigned flags)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v3(tx->db, sql, -1, flags, &statement, NULL);

    if (code == SQLITE_ERROR) g_error("store: %s: %s", sqlite3_errmsg(tx->db), sql);
    if (code != SQLITE_OK) engine_error(tx, code);
    return statement;
}

sqlite3_stmt *engine_prepare(Tx *tx, const char *sql)
{
    sqlite3_stmt *statement = g_hash_table_lookup(tx->statements, sql);

    if (statement == NULL && tx->bad == STORE_OK) {
        statement = compile(tx, sql, SQLITE_PREPARE_PERSISTENT);
        if (statement != NULL) g_hash_table_insert(tx->statements, g_strdup(sql), statement);
    }
    return statement;
}

static Recent *recent_at(Tx *tx, const char *at, int table)
{
    return &tx->recent[((uintptr_t)at / 8 + (uintptr_t)at / 1024 + (uintptr_t)(table + 1) * 37) %
                       RECENT_COUNT];
}

static sqlite3_stmt *find_recent(Tx *tx, const char *at, int table)
{
    const Recent *recent = recent_at(tx, at, table);
    bool same = recent->at == at && recent->table == table && strcmp(recent->text, at) == 0;

    return same ? recent->statement : NULL;
}

static sqlite3_stmt *note_recent(Tx *tx, const char *at, int table, sqlite3_stmt *statement)
{
    Recent *recent = recent_at(tx, at, table);

    if (statement == NULL) return NULL;
    g_free(recent->text);
    *recent = (Recent){.at = at, .table = table, .text = g_strdup(at), .statement = statement};
    return statement;
}

static sqlite3_stmt *lend(Tx *tx, sqlite3_stmt *statement, bool *own)
{
    *own = statement != NULL && sqlite3_stmt_busy(statement);
    return *own ? compile(tx, sqlite3_sql(statement), 0) : statement;
}

sqlite3_stmt *engine_borrow(Tx *tx, const char *sql, bool *own)
{
    sqlite3_stmt *statement = find_recent(tx, sql, -1);

    if (statement == NULL) statement = note_recent(tx, sql, -1, engine_prepare(tx, sql));
    return lend(tx, statement, own);
}

sqlite3_stmt *engine_borrow_rows(Tx *tx, TableId table, const char *where, bool *own)
{
    sqlite3_stmt *statement = find_recent(tx, where, (int)table);

    if (statement == NULL) {
        g_autofree char *select = sql_select(table);
        g_autofree char *tail = sql_tail(where);
        g_autofree char *sql = g_strconcat(select, tail, NULL);
        statement = note_recent(tx, where, (int)table, engine_prepare(tx, sql));
    }
    return lend(tx, statement, own);
}

sqlite3_stmt *engine_update(Tx *tx, TableId table, uint64_t changed)
{
    g_assert(changed >> UPDATE_COLUMNS_MAX == 0);
    int64_t key = (int64_t)(changed | (uint64_t)table << UPDATE_COLUMNS_MAX);
    sqlite3_stmt *statement = g_hash_table_lookup(tx->updates, &key);

    if (statement != NULL) return statement;
    g_autofree char *sql = sql_update(table, changed);
    statement = engine_prepare(tx, sql);
    if (statement != NULL) g_hash_table_insert(tx->updates, g_memdup2(&key, sizeof key), statement);
    return statement;
}

void engine_give_back(sqlite3_stmt *statement, bool own)
{
    if (own) {
        sqlite3_finalize(statement);
    } else if (statement != NULL) {
        sqlite3_reset(statement);
        sqlite3_clear_bindings(statement);
    }
}

bool engine_step(Tx *tx, sqlite3_stmt *statement)
{
    if (statement == NULL || tx->bad != STORE_OK) return false;
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW) return true;
    if (code != SQLITE_DONE) engine_error(tx, code);
    return false;
}

bool engine_exec(Tx *tx, const char *sql)
{
    bool own;
    sqlite3_stmt *statement = engine_borrow(tx, sql, &own);

    while (engine_step(tx, statement))
        ;
    engine_give_back(statement, own);
    return tx->bad == STORE_OK;
}

static void bind_text(sqlite3_stmt *statement, int at, const char *text)
{
    if (text == NULL)
        sqlite3_bind_null(statement, at);
    else
        sqlite3_bind_text(statement, at, text, -1, SQLITE_STATIC);
}

void engine_bind_column(sqlite3_stmt *statement, const Row *row, int column)
{
    const Table *table = table_of(row_table(row));
    int at = column + 1;

    if (row_is_null(row, column)) {
        g_assert(column >= table->keys);
        sqlite3_bind_null(statement, at);
        return;
    }
    switch (table->column[column].type) {
    case COLUMN_TEXT: bind_text(statement, at, row_text(row, column)); break;
    case COLUMN_INTEGER: sqlite3_bind_int64(statement, at, row_int(row, column)); break;
    case COLUMN_REAL: sqlite3_bind_double(statement, at, row_real(row, column)); break;
    }
}

void engine_bind_row(sqlite3_stmt *statement, const Row *row, int columns)
{
    for (int i = 0; i < columns; i++)
        engine_bind_column(statement, row, i);
}

Row *engine_read_row(sqlite3_stmt *statement, TableId id)
{
    const Table *table = table_of(id);
    Row *row = row_new(id);

    for (int i = 0; i < table->columns; i++) {
        if (sqlite3_column_type(statement, i) == SQLITE_NULL) continue;
        switch (table->column[i].type) {
        case COLUMN_TEXT:
            row_set_text(row, i, (const char *)sqlite3_column_text(statement, i));
            break;
        case COLUMN_INTEGER: row_set_int(row, i, sqlite3_column_int64(statement, i)); break;
        case COLUMN_REAL: row_set_real(row, i, sqlite3_column_double(statement, i)); break;
        }
    }
    row_mark_stored(row);
    return row;
}

void engine_bind_arguments(sqlite3_stmt *statement, const char *types, va_list arguments)
{
    for (int i = 0; types[i] != '\0'; i++) {
        switch (types[i]) {
        case 't': bind_text(statement, i + 1, va_arg(arguments, const char *)); break;
        case 'i': sqlite3_bind_int64(statement, i + 1, va_arg(arguments, int64_t)); break;
        case 'r': sqlite3_bind_double(statement, i + 1, va_arg(arguments, double)); break;
        default: g_assert_not_reached();
        }
    }
}
