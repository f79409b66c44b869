/* SPDX-License-Identifier: Apache-2.0 */
/* A connection to PostgreSQL. Commands are sent one after the other and answers read where one is wanted, at the latest before
 * the commit: an error shows late, but the transaction is lost from where it happened, as the server ignores the rest. */
#include <stdlib.h>
#include <string.h>

#include "adapters/store/postgres_part.h"

static const Dialect DIALECT = {
    .name = "PostgreSQL",
    .begin = "BEGIN",
    .mark = NULL,
    .look_over = NULL,
    .types = {[COLUMN_TEXT] = "TEXT COLLATE \"C\"",
              [COLUMN_INTEGER] = "BIGINT",
              [COLUMN_REAL] = "DOUBLE PRECISION"},
    .bytes = "BYTEA",
    .short_rows = "",
    .long_rows = "",
    .long_rows_column = "rowid BIGINT NOT NULL GENERATED ALWAYS AS IDENTITY, ",
    .index_order = " NULLS FIRST",
    .far = true,
    .among = "= ANY (string_to_array(?1, chr(31)))",
    .no_salt = "decode(repeat('00', 16), 'hex')",
};

/* disk_full (PostgreSQL 15, appendix A) */
#define NO_ROOM "53100"

static Postgres *of(Driver *driver)
{
    return (Postgres *)driver;
}

/* --- errors --- */

/* The first line: what follows is hints and places. */
static char *first_line(const char *text)
{
    static const char *const BEFORE[] = {"ERROR:", "FATAL:", "PANIC:"};
    const char *at = text != NULL ? text : "";

    for (size_t i = 0; i < G_N_ELEMENTS(BEFORE); i++)
        if (g_str_has_prefix(at, BEFORE[i])) at += strlen(BEFORE[i]);
    while (g_ascii_isspace(*at))
        at++;
    return g_strndup(at, strcspn(at, "\n"));
}

void postgres_note(Postgres *postgres, const PGresult *result)
{
    const char *state = result != NULL ? PQresultErrorField(result, PG_DIAG_SQLSTATE) : NULL;

    /* What has no code was not said by the server: libpq itself could not send or read. */
    if (state == NULL) postgres->lost = true;
    if (PQstatus(postgres->connection) == CONNECTION_BAD) postgres->lost = true;
    if (postgres->problem != NULL) return;
    postgres->problem = first_line(result != NULL ? PQresultErrorMessage(result)
                                                  : PQerrorMessage(postgres->connection));
    g_strlcpy(postgres->state, state != NULL ? state : "", sizeof postgres->state);
}

/* What passes by itself: no room, no memory, too many connections, a server that stops or starts, a standby that is not yet
 * the new server, a transaction that lost against another. */
static bool passes(const Postgres *postgres)
{
    static const char *const CLASSES[] = {"08", "40", "53", "57", "25006", "55P03"};

    if (postgres->refused != NULL) return false;
    if (postgres->lost) return true;
    for (size_t i = 0; i < G_N_ELEMENTS(CLASSES); i++)
        if (g_str_has_prefix(postgres->state, CLASSES[i])) return true;
    return false;
}

static StoreStatus error(Driver *driver, char **problem)
{
    Postgres *postgres = of(driver);
    g_autofree char *said =
        postgres->problem != NULL ? g_steal_pointer(&postgres->problem) : g_strdup("not there");
    bool passing = passes(postgres);
    bool full = passing && !postgres->lost && strcmp(postgres->state, NO_ROOM) == 0;

    if (postgres->refused != NULL)
        *problem =
            g_strdup_printf("%s%s", postgres->stale ? "" : "the store failed: ", postgres->refused);
    else if (postgres->lost)
        *problem = g_strdup_printf("no database: %s", said);
    else if (full)
        *problem = g_strdup_printf("no room left on the device of the database (%s)", said);
    else
        *problem = g_strdup_printf("the %s: %s (PostgreSQL %s)%s",
                                   passing ? "database cannot write now" : "store failed", said,
                                   postgres->state, passing ? "" : ": nothing more is written");
    if (postgres->stale) return STORE_STALE;
    return full ? STORE_FULL : passing ? STORE_AWAY : STORE_FAILED;
}

/* --- answers --- */

bool postgres_is_good(const PGresult *result)
{
    ExecStatusType status = PQresultStatus(result);

    return status == PGRES_COMMAND_OK || status == PGRES_TUPLES_OK;
}

/* The answer to one command; what follows it is read too. */
static PGresult *read_one(Postgres *postgres)
{
    PGresult *result = PQgetResult(postgres->connection);
    PGresult *more;

    while (result != NULL && (more = PQgetResult(postgres->connection)) != NULL)
        PQclear(more);
    if (result != NULL && postgres_is_good(result)) return result;
    if (result == NULL || PQresultStatus(result) != PGRES_PIPELINE_ABORTED)
        postgres_note(postgres, result);
    PQclear(result);
    return NULL;
}

static void forget_fresh(Postgres *postgres, bool good)
{
    for (guint i = 0; i < postgres->fresh->len && !good; i++)
        postgres_unprepare(postgres->fresh->pdata[i]);
    g_ptr_array_set_size(postgres->fresh, 0);
}

static bool read_sync(Postgres *postgres)
{
    PGresult *result = PQgetResult(postgres->connection);
    bool synced = PQresultStatus(result) == PGRES_PIPELINE_SYNC;

    if (!synced) postgres_note(postgres, result);
    PQclear(result);
    return synced;
}

PGresult *postgres_answer(Postgres *postgres)
{
    PGresult *last = NULL;
    bool good = PQpipelineSync(postgres->connection) != 0;

    if (!good) postgres_note(postgres, NULL);
    for (int i = 0; i < postgres->sent && !postgres->lost; i++) {
        postgres->changed_before = last != NULL ? atoi(PQcmdTuples(last)) : 0;
        PQclear(last);
        last = read_one(postgres);
        good = good && last != NULL;
        if (last == NULL && PQstatus(postgres->connection) == CONNECTION_BAD) postgres->lost = true;
    }
    postgres->sent = 0;
    if (!postgres->lost) good = read_sync(postgres) && good;
    good = good && !postgres->lost;
    forget_fresh(postgres, good);
    if (good) return last;
    PQclear(last);
    return NULL;
}

/* --- the driver --- */

static Statement *prepare(Driver *driver, const char *sql)
{
    return postgres_prepare(of(driver), sql);
}

static Statement *walk(Driver *driver, const char *sql)
{
    return postgres_walk(of(driver), sql);
}

/* A lost connection has rolled back by itself; the next transaction wants a new one. */
static void roll_back(Driver *driver)
{
    Postgres *postgres = of(driver);

    if (!postgres->lost && postgres->sent > 0) PQclear(postgres_answer(postgres));
    if (!postgres->lost && PQtransactionStatus(postgres->connection) != PQTRANS_IDLE &&
        PQsendQueryParams(postgres->connection, "ROLLBACK", 0, NULL, NULL, NULL, NULL, 0) != 0) {
        postgres->sent = 1;
        PQclear(postgres_answer(postgres));
    }
    if (!postgres->lost) g_clear_pointer(&postgres->problem, g_free);
}

static bool has_column(Driver *driver, const char *table, const char *column)
{
    Statement *statement = postgres_prepare(
        of(driver), "SELECT 1 FROM information_schema.columns WHERE table_schema = ?1 AND "
                    "table_name = ?2 AND column_name = ?3");

    statement_bind_text(statement, 1, of(driver)->schema);
    statement_bind_text(statement, 2, table);
    statement_bind_text(statement, 3, column);
    bool found = statement->calls->step(statement) == STEP_ROW;
    statement->calls->free(statement);
    return found;
}

static bool begin(Driver *driver)
{
    return postgres_begin(of(driver));
}

static bool commit(Driver *driver)
{
    return postgres_commit(of(driver));
}

static void close_driver(Driver *driver)
{
    Postgres *postgres = of(driver);

    postgres_forget_fence(postgres);
    g_free(postgres->refused);
    PQfinish(postgres->connection);
    g_ptr_array_unref(postgres->fresh);
    g_free(postgres->connect);
    if (postgres->password != NULL) memset(postgres->password, 0, strlen(postgres->password));
    g_free(postgres->password);
    g_free(postgres->schema);
    g_free(postgres->problem);
    g_free(postgres);
}

Driver *postgres_driver_new(const char *connect, const char *password, const char *schema,
                            char **why)
{
    static const DriverCalls CALLS = {.prepare = prepare,
                                      .walk = walk,
                                      .error = error,
                                      .roll_back = roll_back,
                                      .has_column = has_column,
                                      .begin = begin,
                                      .commit = commit,
                                      .close = close_driver};
    Postgres *postgres = g_new0(Postgres, 1);

    postgres->driver = (Driver){.calls = &CALLS, .dialect = &DIALECT};
    postgres->connect = g_strdup(connect);
    postgres->password = g_strdup(password);
    postgres->schema = g_strdup(schema);
    postgres->fresh = g_ptr_array_new();
    postgres->file_open = -1;
    if (postgres_connect(postgres)) return &postgres->driver;
    *why = g_steal_pointer(&postgres->problem);
    close_driver(&postgres->driver);
    return NULL;
}
