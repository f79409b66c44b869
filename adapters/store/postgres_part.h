/* SPDX-License-Identifier: Apache-2.0 */
/* What the connection (postgres.c) and its statements (postgres_statement.c) know of each other. */
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
    bool taken;       /* the schema is held: see postgres_take */
    int made;         /* how often a connection was made: statements are prepared in one */
    int sent;         /* commands whose answers were not read */
    int names;        /* given to statements */
    GPtrArray *fresh; /* statements whose preparation was sent and not answered; lent */
    char *problem;    /* of the first error since it was asked for, or NULL */
    char state[6];    /* its SQLSTATE, or "" */
    bool lost;        /* it was the connection */
} Postgres;

/* A statement's text as PostgreSQL wants it (g_free), and how many arguments it has. */
char *postgres_translate(const char *sql, int *count);

Statement *postgres_prepare(Postgres *postgres, const char *sql);

Statement *postgres_walk(Postgres *postgres, const char *sql);

/* What was sent of a statement came to nothing: it is to be prepared anew. */
void postgres_unprepare(Statement *statement);

/* Notes the connection's error, or that of a result. The first counts. */
void postgres_note(Postgres *postgres, const PGresult *result);

/* Waits for the answers to everything that was sent. The last one (PQclear), or NULL after an error, which is noted. */
PGresult *postgres_answer(Postgres *postgres);

#endif
