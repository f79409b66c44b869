/* SPDX-License-Identifier: Apache-2.0 */
/* What the engine needs of a database: prepared statements, their arguments and results, and what an error means. One driver
 * for each kind, sqlite.h and postgres.h; a driver is one connection, used by one thread. Statements are written once, in
 * what both understand, with arguments ?1, ?2 ...; Dialect has the few words that differ. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_DRIVER_H
#define OSIER_ADAPTERS_STORE_DRIVER_H

#include "adapters/store/store.h"
#include "core/ledger/table.h"

typedef struct Driver Driver;
typedef struct Statement Statement;

typedef enum { STEP_ROW, STEP_DONE, STEP_ERROR } Step;
typedef enum { VALUE_NULL, VALUE_TEXT, VALUE_INTEGER, VALUE_REAL, VALUE_BYTES } ValueType;

/* What differs. */
typedef struct {
    const char *name;  /* "SQLite": for messages */
    const char *begin; /* begins a transaction that writes */
    const char *mark;  /* marks a new database as ours; NULL: nothing to do */
    /* gives a line for each fault of the database itself, or "ok"; NULL: its host's business */
    const char *look_over;
    const char *types[3]; /* of ColumnType, as declared in a table */
    const char *bytes;    /* the type of bytes */
    const char
        *short_rows; /* what follows a table's columns, for rows that lie in their key's order */
    /* The same for rows in the order of their making, which is their rowid; and a column beside the declared ones, or "". */
    const char *long_rows;
    const char *long_rows_column;
    const char *index_order; /* what follows a column of an index, so that null comes first */
    const char *no_salt;     /* 16 bytes of zero, as a value */
    /* Another process, which is waited for at each answer: rows are asked for together and kept in memory, and one that was read is
     * written back whole, without hearing whether it was there. Near by, a row is found sooner than it is copied. */
    bool far;
    /* Where it is: what follows an expression that is compared with each text of ?1, between which \x1f lies. */
    const char *among;
} Dialect;

/* Columns count from 0, arguments from 1. Arguments are lent until the statement is reset; texts and bytes of a row until its
 * statement's next step or reset. */
typedef struct {
    void (*bind_null)(Statement *statement, int at, ValueType type);
    void (*bind_text)(Statement *statement, int at, const char *text);
    void (*bind_int)(Statement *statement, int at, int64_t value);
    void (*bind_real)(Statement *statement, int at, double value);
    void (*bind_bytes)(Statement *statement, int at, const uint8_t *bytes, int length);
    int (*columns)(Statement *statement);
    ValueType (*type)(Statement *statement, int column);
    const char *(*text)(Statement *statement, int column); /* NULL for null */
    int64_t (*integer)(Statement *statement, int column);
    double (*real)(Statement *statement, int column);
    const uint8_t *(*bytes)(Statement *statement, int column, int *length);
    Step (*step)(Statement *statement);
    /* One step of a statement that gives no rows, whose failure may show only at a later one. */
    Step (*quiet)(Statement *statement);
    int (*changes)(Statement *statement);     /* rows that the last step wrote */
    bool (*is_busy)(Statement *statement);    /* between its first row and its end */
    Statement *(*twin)(Statement *statement); /* another of the same text; NULL: an error */
    void (*reset)(Statement *statement);      /* ready for another run; arguments stay */
    void (*clear)(Statement *statement);      /* reset, and no argument is set */
    void (*free)(Statement *statement);
} StatementCalls;

struct Statement {
    const StatementCalls *calls;
};

typedef struct {
    Statement *(*prepare)(Driver *driver, const char *sql); /* NULL: an error */
    /* The same for a select without arguments whose rows together may be more than fits; inside a transaction. */
    Statement *(*walk)(Driver *driver, const char *sql);
    /* What the last error means, and in plain words (g_free): STORE_FULL or STORE_AWAY where another try
     * may do, STORE_STALE, else STORE_FAILED. */
    StoreStatus (*error)(Driver *driver, char **problem);
    /* Ends the transaction that runs, if one does, without a trace. */
    void (*roll_back)(Driver *driver);
    bool (*has_column)(Driver *driver, const char *table, const char *column);
    /* Begin a transaction that writes, on a new connection where the last one was lost; end it. False: an error. NULL: the
     * command is enough. */
    bool (*begin)(Driver *driver);
    bool (*commit)(Driver *driver);
    /* Another connection, which only reads and is for another thread. It sees what this one sees, as long as this one writes
     * nothing. NULL, also in place of the function: there can be none. */
    Driver *(*twin)(Driver *driver);
    /* From now on, or no more: what is sorted and does not fit may lie in a file that nobody else sees. NULL: its host's business. */
    void (*spill)(Driver *driver, bool may);
    void (*close)(Driver *driver);
} DriverCalls;

struct Driver {
    const DriverCalls *calls;
    const Dialect *dialect;
};

static inline void statement_bind_text(Statement *statement, int at, const char *text)
{
    if (text == NULL)
        statement->calls->bind_null(statement, at, VALUE_TEXT);
    else
        statement->calls->bind_text(statement, at, text);
}

static inline void statement_bind_int(Statement *statement, int at, int64_t value)
{
    statement->calls->bind_int(statement, at, value);
}

static inline void statement_bind_bytes(Statement *statement, int at, const uint8_t *bytes,
                                        int length)
{
    statement->calls->bind_bytes(statement, at, bytes, length);
}

static inline const char *statement_text(Statement *statement, int column)
{
    return statement->calls->text(statement, column);
}

static inline int64_t statement_int(Statement *statement, int column)
{
    return statement->calls->integer(statement, column);
}

/* Copies bytes of that length. False, with nothing copied, where they are longer, shorter or null. */
bool statement_copy_bytes(Statement *statement, int column, uint8_t *bytes, int length);

#endif
