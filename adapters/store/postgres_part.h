/* SPDX-License-Identifier: Apache-2.0 */
/* What the driver (postgres.c), its connection (postgres_session.c), its commits (postgres_fence.c) and its statements
 * (postgres_statement.c, postgres_column.c) know of each other. */
#ifndef OSIER_ADAPTERS_STORE_POSTGRES_PART_H
#define OSIER_ADAPTERS_STORE_POSTGRES_PART_H

#include <libpq-fe.h>

#include "adapters/store/postgres.h"

typedef struct {
    Driver driver;
    char *connect;
    char *password; /* or NULL */
    char *schema;
    PGconn *connection;
    bool taken;         /* the schema is held: see postgres_take */
    int made;           /* how often a connection was made: statements are prepared in one */
    int sent;           /* commands whose answers were not read */
    int names;          /* given to statements */
    GPtrArray *fresh;   /* statements whose preparation was sent and not answered; lent */
    char *problem;      /* of the first error since it was asked for, or NULL */
    char state[6];      /* its SQLSTATE, or "" */
    bool lost;          /* it was the connection */
    char *refused;      /* why nothing may be written by this process any more, or NULL */
    bool stale;         /* it is that others wrote: a new start may */
    int changed_before; /* rows that the command before the last answered one wrote */

    char *fence;     /* of which store the count is; NULL: nothing is counted */
    int64_t commits; /* that were kept, as far as is known */
    bool doubt;      /* of one more it is not known */
    char *file;      /* where the count is kept beside the server, or NULL */
    int file_open;   /* -1: it is not yet */
} Postgres;

/* From the server's catalogue of types, which does not change. */
enum { OID_BOOL = 16, OID_BYTES = 17, OID_INT8 = 20, OID_INT2 = 21, OID_INT4 = 23, OID_TEXT = 25 };
enum { OID_FLOAT4 = 700, OID_FLOAT8 = 701, OID_NUMERIC = 1700 };

typedef struct {
    Statement statement;
    Postgres *postgres;
    char *sql;
    char name[16]; /* "": prepared at each run */
    int made;      /* in which connection it is prepared; 0: in none */
    int count;     /* of arguments */
    Oid *types;
    Oid *prepared_types;
    const char **values;
    int *lengths;
    int *formats;
    uint64_t *numbers; /* what values points to, for numbers */
    char **valid;      /* and for texts that were no UTF-8 */
    bool walks;        /* its rows come some at a time, from a cursor of its name */
    bool walking;
    PGresult *result;
    int row;
    int changes;
    GPtrArray *lent; /* texts and bytes of the row */
} PgStatement;

static inline PgStatement *postgres_statement(Statement *statement)
{
    return (PgStatement *)statement;
}

/* Of the row that a statement stands at: see StatementCalls. */
int postgres_columns(Statement *statement);
ValueType postgres_column_type(Statement *statement, int column);
const char *postgres_column_text(Statement *statement, int column);
int64_t postgres_column_integer(Statement *statement, int column);
double postgres_column_real(Statement *statement, int column);
const uint8_t *postgres_column_bytes(Statement *statement, int column, int *length);

/* A statement's text as PostgreSQL wants it (g_free), and how many arguments it has. */
char *postgres_translate(const char *sql, int *count);

Statement *postgres_prepare(Postgres *postgres, const char *sql);

Statement *postgres_walk(Postgres *postgres, const char *sql);

/* What was sent of a statement came to nothing: it is to be prepared anew. */
void postgres_unprepare(Statement *statement);

/* Notes the connection's error, or that of a result. The first counts. */
void postgres_note(Postgres *postgres, const PGresult *result);

bool postgres_is_good(const PGresult *result);

/* Connects anew, and sees that the server keeps what osier needs and the schema is what it was. False: lost, or refused. */
bool postgres_connect(Postgres *postgres);

/* Begins a transaction, on a new connection where there is none; commits; what was in doubt is settled where the server comes
 * back soon. False: an error is noted. */
bool postgres_begin(Postgres *postgres);
bool postgres_commit(Postgres *postgres);

/* After a new connection: is every commit there that was told to be kept, and no other? False: refused, or lost. */
bool postgres_fence_holds(Postgres *postgres);
void postgres_forget_fence(Postgres *postgres);

/* One value outside the pipeline (g_free); NULL for no row, null or an error. argument is $1, or NULL. */
char *postgres_value(Postgres *postgres, const char *query, const char *argument);

/* A command outside the pipeline. False: noted. */
bool postgres_do(Postgres *postgres, const char *text);

/* Waits for the answers to everything that was sent. The last one (PQclear), or NULL after an error, which is noted. */
PGresult *postgres_answer(Postgres *postgres);

#endif
