/* SPDX-License-Identifier: Apache-2.0 */
/* What a job can read and write besides events. After an error every call is quiet: the transaction
 * is lost anyway. */
#include "adapters/store/anew.h"
#include "adapters/store/card.h"
#include "adapters/store/engine.h"
#include "adapters/store/gather.h"
#include "adapters/store/sql.h"
#include "core/ledger/row.h"

int64_t tx_now(const Tx *tx)
{
    return tx->now;
}

bool tx_is_lost(const Tx *tx)
{
    return tx->bad != STORE_OK;
}

int64_t tx_moves(const Tx *tx)
{
    return tx->moves;
}

int64_t tx_people_moves(const Tx *tx)
{
    return tx->people_moves;
}

int64_t tx_work_moves(const Tx *tx)
{
    return tx->work_moves;
}

const char *tx_replica(const Tx *tx)
{
    return tx->replica;
}

/* The table's statement of one sort, made at first use. */
static Statement *statement_of(Tx *tx, Statement **kept, char *(*make)(TableId), TableId id)
{
    if (kept[id] == NULL) {
        g_autofree char *sql = make(id);
        kept[id] = engine_prepare(tx, sql);
    }
    return kept[id];
}

/* Only rows whose key is one short text are remembered as absent. */
static const char *short_key(const Row *key)
{
    const Table *table = table_of(row_table(key));
    const char *text =
        table->keys == 1 && table->column[0].type == COLUMN_TEXT ? row_text(key, 0) : NULL;

    return text != NULL && strlen(text) < ABSENT_KEY_MAX ? text : NULL;
}

static Absent *find_absent(Tx *tx, const Row *key)
{
    const Table *table = table_of(row_table(key));
    const char *text = short_key(key);

    for (int i = 0; text != NULL && i < ABSENT_COUNT; i++)
        if (tx->absent[i].table == table && strcmp(tx->absent[i].key, text) == 0)
            return &tx->absent[i];
    return NULL;
}

static void note_absent(Tx *tx, const Row *key)
{
    const char *text = short_key(key);

    if (text == NULL || tx->bad != STORE_OK) return;
    Absent *absent = &tx->absent[tx->absent_turn++ % ABSENT_COUNT];
    absent->table = table_of(row_table(key));
    g_strlcpy(absent->key, text, sizeof absent->key);
}

static void forget_absent(Tx *tx, const Row *row)
{
    Absent *absent = find_absent(tx, row);

    if (absent != NULL) absent->table = NULL;
}

/* Is it known whether there is such a row? Then *row is a copy of it, or NULL. */
static bool find_known(Tx *tx, const Row *key, Row **row)
{
    const Row *kept = NULL;

    *row = NULL;
    if (find_absent(tx, key) != NULL) return true;
    if (tx->rows == NULL || tx->bad != STORE_OK || !rows_find(tx->rows, key, &kept)) return false;
    if (kept != NULL) *row = row_copy(kept);
    return true;
}

static Row *get_row(Tx *tx, const Row *key)
{
    TableId id = row_table(key);
    const Row *held = gather_find(tx->gather, key);
    Row *row;

    if (held != NULL) return row_copy(held);
    if (find_known(tx, key, &row)) return row;
    Statement *statement = statement_of(tx, tx->get, sql_get, id);
    if (statement == NULL) return NULL;
    engine_bind_row(statement, key, table_of(id)->keys);
    if (engine_step(tx, statement)) row = engine_read_row(statement, id);
    statement->calls->reset(statement);
    if (row == NULL) note_absent(tx, key);
    if (tx->rows != NULL && tx->bad == STORE_OK) rows_note(tx->rows, key, row);
    return row;
}

/* Writes back the columns that changed since the row was read: indexes of the others are left alone. False where the row
 * is there no more. */
static bool update_row(Tx *tx, const Row *row)
{
    const Table *table = table_of(row_table(row));
    uint64_t changed = row_changed(row);
    Statement *statement = engine_update(tx, row_table(row), changed);

    if (statement == NULL) return true;
    for (int i = 0; i < table->columns; i++)
        if (i < table->keys || (changed >> i & 1) != 0) engine_bind_column(statement, row, i);
    engine_step(tx, statement);
    bool changed_one = tx->bad != STORE_OK || statement->calls->changes(statement) > 0;
    statement->calls->reset(statement);
    return changed_one;
}

static bool keys_changed(const Row *row)
{
    return (row_changed(row) & ((UINT64_C(1) << table_of(row_table(row))->keys) - 1)) != 0;
}

static void note_work(Tx *tx, TableId table)
{
    if (table == TABLE_DUE || table == TABLE_OUTBOX || table == TABLE_META) tx->work_moves++;
}

/* Whose card the row is on: the first column of a setting or contact, the client of a bar. -1: it is on none. */
static int card_column(TableId table)
{
    if (table == TABLE_SETTING) return SETTING_SUBJECT;
    if (table == TABLE_CONTACT) return CONTACT_CLIENT;
    return table == TABLE_BAR ? BAR_CLIENT : -1;
}

static void note_people(Tx *tx, const Row *row)
{
    int column = card_column(row_table(row));

    if (column < 0) return;
    tx->people_moves++;
    if (row_text(row, column) != NULL) card_tear_up(tx, row_text(row, column));
}

void engine_put_row(Tx *tx, const Row *row)
{
    TableId id = row_table(row);

    note_people(tx, row);
    note_work(tx, row_table(row));
    forget_absent(tx, row);
    if (row_is_stored(row) && !keys_changed(row)) {
        if (row_changed(row) == 0) return;
        if (!tx->driver->dialect->far && update_row(tx, row)) return;
    }
    Statement *statement = statement_of(tx, tx->put, sql_put, id);

    if (statement == NULL) return;
    engine_bind_row(statement, row, table_of(id)->columns);
    engine_quiet(tx, statement);
    if (tx->rows != NULL) rows_note_written(tx->rows, row, row);
}

void tx_hear(Tx *tx, TxHeard *heard, void *context)
{
    tx->heard = heard;
    tx->heard_context = context;
}

static Row *fold_get(void *context, const Row *key)
{
    Row *row = get_row(context, key);

    if (row != NULL) anew_note(context, row);
    return row;
}

static void fold_put_row(void *context, const Row *row)
{
    Tx *tx = context;

    anew_note_put(tx, row);
    if (tx->gathering && gather_takes(row_table(row)) && tx->bad == STORE_OK) {
        forget_absent(tx, row);
        gather_put(tx, row);
        return;
    }
    if (gather_find(tx->gather, row) != NULL) gather_flush(tx);
    engine_put_row(tx, row);
}

static const char *fold_one(void *context, const char *client)
{
    return tx_one(context, client);
}

FoldTables engine_tables(Tx *tx)
{
    return (FoldTables){.get = fold_get, .put = fold_put_row, .one = fold_one, .context = tx};
}

Row *tx_get(Tx *tx, const Row *key)
{
    return get_row(tx, key);
}

Row *tx_get_text(Tx *tx, TableId table, const char *key)
{
    g_autoptr(Row) row = row_new(table);

    g_assert(table_of(table)->keys == 1);
    row_set_text(row, 0, key);
    return get_row(tx, row);
}

void tx_put(Tx *tx, const Row *row)
{
    g_assert(table_of(row_table(row))->local);
    engine_put_row(tx, row);
}

void engine_remove_row(Tx *tx, const Row *row)
{
    TableId id = row_table(row);

    gather_flush(tx);
    note_people(tx, row);
    note_work(tx, row_table(row));
    Statement *statement = statement_of(tx, tx->remove, sql_remove, id);
    if (statement == NULL) return;
    engine_bind_row(statement, row, table_of(id)->keys);
    engine_quiet(tx, statement);
    if (tx->rows != NULL) rows_note_written(tx->rows, row, NULL);
}

void tx_delete(Tx *tx, const Row *key)
{
    g_assert(table_of(row_table(key))->local);
    engine_remove_row(tx, key);
}

char *tx_meta(Tx *tx, const char *key)
{
    g_autoptr(Row) row = tx_get_text(tx, TABLE_META, key);

    return row != NULL ? g_strdup(row_text(row, META_VALUE)) : NULL;
}

void tx_set_meta(Tx *tx, const char *key, const char *value)
{
    g_autoptr(Row) row = row_new(TABLE_META);

    row_set_text(row, META_KEY, key);
    row_set_text(row, META_VALUE, value);
    engine_put_row(tx, row);
}

GPtrArray *tx_rows(Tx *tx, TableId table, const char *where, const char *types, ...)
{
    GPtrArray *rows = g_ptr_array_new_with_free_func((GDestroyNotify)row_free);
    bool own;
    Statement *statement = engine_borrow_rows(tx, table, where, &own);
    va_list arguments;

    if (statement == NULL) return rows;
    va_start(arguments, types);
    engine_bind_arguments(statement, 1, types, arguments);
    va_end(arguments);
    while (engine_step(tx, statement))
        g_ptr_array_add(rows, engine_read_row(statement, table));
    engine_give_back(statement, own);
    return rows;
}

#define RESULT_COLUMNS 32

/* Numbers before texts: reading a number as text changes what SQLite holds of it. */
void engine_lend_result(Statement *statement, TxEach *each, void *context)
{
    const StatementCalls *calls = statement->calls;
    int columns = calls->columns(statement);
    const char *text[RESULT_COLUMNS];
    int64_t integer[RESULT_COLUMNS];
    double real[RESULT_COLUMNS];

    g_assert(columns <= RESULT_COLUMNS);
    for (int i = 0; i < columns; i++) {
        ValueType type = calls->type(statement, i);
        text[i] = NULL;
        integer[i] = 0;
        real[i] = 0;
        if (type == VALUE_NULL) continue;
        if (type != VALUE_TEXT) {
            integer[i] = calls->integer(statement, i);
            real[i] = calls->real(statement, i);
        }
        text[i] = calls->text(statement, i);
    }
    TxResult result = {.columns = columns, .text = text, .integer = integer, .real = real};
    each(&result, context);
}

void tx_select_list(Tx *tx, const char *sql, TxEach *each, void *context, const char *types,
                    va_list arguments)
{
    bool own;
    Statement *statement = engine_borrow(tx, sql, &own);

    if (statement == NULL) return;
    engine_bind_arguments(statement, 1, types, arguments);
    while (engine_step(tx, statement))
        engine_lend_result(statement, each, context);
    engine_give_back(statement, own);
}

void tx_select(Tx *tx, const char *sql, TxEach *each, void *context, const char *types, ...)
{
    va_list arguments;

    va_start(arguments, types);
    tx_select_list(tx, sql, each, context, types, arguments);
    va_end(arguments);
}

int tx_change(Tx *tx, const char *sql, const char *types, ...)
{
    bool own;
    Statement *statement = engine_borrow(tx, sql, &own);
    va_list arguments;

    if (statement == NULL) return 0;
    va_start(arguments, types);
    engine_bind_arguments(statement, 1, types, arguments);
    va_end(arguments);
    while (engine_step(tx, statement))
        ;
    int changed = tx->bad == STORE_OK ? statement->calls->changes(statement) : 0;
    engine_give_back(statement, own);
    if (changed > 0) tx->work_moves++;
    if (changed > 0 && tx->rows != NULL) rows_forget(tx->rows);
    return changed;
}
