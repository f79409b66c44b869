/* SPDX-License-Identifier: Apache-2.0 */
/* A connection to a server that keeps what it is given: what is asked of it at the start is asked again whenever the connection
 * is made anew, for it may be another server by then, or the same with other settings. */
#include <stdlib.h>

#include "adapters/store/postgres_part.h"

/* pg_current_xact_id_if_assigned came with it. */
#define VERSION_LEAST 130000
/* A process that was killed holds its schema until the server notices. */
#define TAKE_TURNS 40
#define TAKE_TURN_US 50000

static void be_silent(void *context, const PGresult *result)
{
    (void)context;
    (void)result;
}

bool postgres_do(Postgres *postgres, const char *text)
{
    PGresult *result = PQexec(postgres->connection, text);
    bool good = postgres_is_good(result);

    if (!good) postgres_note(postgres, result);
    PQclear(result);
    return good;
}

char *postgres_value(Postgres *postgres, const char *query, const char *argument)
{
    PGresult *result = PQexecParams(postgres->connection, query, argument != NULL ? 1 : 0, NULL,
                                    &argument, NULL, NULL, 0);
    char *answer = PQresultStatus(result) == PGRES_TUPLES_OK && PQntuples(result) > 0 &&
                           !PQgetisnull(result, 0, 0)
                       ? g_strdup(PQgetvalue(result, 0, 0))
                       : NULL;

    PQclear(result);
    return answer;
}

static bool take(Postgres *postgres)
{
    for (int turn = 0; turn < TAKE_TURNS; turn++) {
        g_autofree char *got = postgres_value(
            postgres, "SELECT pg_try_advisory_lock(hashtextextended('osier ' || $1, 0))",
            postgres->schema);

        if (g_strcmp0(got, "f") != 0) return g_strcmp0(got, "t") == 0;
        g_usleep(TAKE_TURN_US);
    }
    return false;
}

static bool is(Postgres *postgres, const char *query, const char *expected)
{
    g_autofree char *answer = postgres_value(postgres, query, NULL);

    return g_strcmp0(answer, expected) == 0;
}

/* What a server must promise. NULL: it does; else one line. */
static const char *lacking(Postgres *postgres)
{
    g_autofree char *version = postgres_value(postgres, "SHOW server_version_num", NULL);

    if (version == NULL) return "the server does not tell its version";
    if (atoi(version) < VERSION_LEAST) return "the server is older than PostgreSQL 13";
    if (!is(postgres, "SHOW server_encoding", "UTF8")) return "the database's encoding is not UTF8";
    if (is(postgres, "SELECT pg_is_in_recovery()", "t"))
        return "the server is a standby, which cannot be written to";
    if (is(postgres, "SHOW transaction_read_only", "on")) return "the database is read-only";
    if (is(postgres, "SHOW fsync", "off"))
        return "fsync is off at the server: a power cut would lose the store";
    if (is(postgres, "SHOW synchronous_commit", "off"))
        return "synchronous_commit is off: a crash of the server would lose messages that were "
               "told to be safe; set it on";
    if (is(postgres, "SHOW synchronous_commit", "local") &&
        !is(postgres, "SHOW synchronous_standby_names", ""))
        return "synchronous_commit is local, though there are synchronous standbys: one that takes "
               "over would lack commits; set it on";
    return NULL;
}

/* The server ends a session soon whose process or machine is gone, so that another can have the schema. */
static bool set_up(Postgres *postgres)
{
    g_autofree char *set = g_strdup_printf(
        "SET search_path = \"%s\"; SET client_encoding = 'UTF8'; SET bytea_output = 'hex'; "
        "SET standard_conforming_strings = on; SET statement_timeout = 0; "
        "SET idle_in_transaction_session_timeout = 0; SET plan_cache_mode = force_generic_plan; "
        "SET tcp_keepalives_idle = 10; SET tcp_keepalives_interval = 5; SET tcp_keepalives_count = "
        "3; "
        "SELECT set_config(name, '2000', false) FROM pg_settings "
        "WHERE name = 'client_connection_check_interval'",
        postgres->schema);

    PQsetNoticeReceiver(postgres->connection, be_silent, NULL);
    if (!postgres_do(postgres, set)) return false;
    const char *lacks = lacking(postgres);
    if (lacks == NULL && postgres->taken && !take(postgres)) {
        lacks = "another process has the clinic's schema by now";
        postgres_fence_holds(postgres); /* has it written? Then this one is refused for good */
    }
    if (lacks != NULL) {
        g_free(postgres->problem);
        postgres->problem = g_strdup(lacks);
        return false;
    }
    return postgres_fence_holds(postgres) && PQenterPipelineMode(postgres->connection) != 0;
}

static PGconn *open_connection(const Postgres *postgres)
{
    const char *const keys[] = {"dbname",
                                "fallback_application_name",
                                "connect_timeout",
                                "keepalives_idle",
                                "keepalives_interval",
                                "keepalives_count",
                                "tcp_user_timeout",
                                postgres->password != NULL ? "password" : NULL,
                                NULL};
    const char *const values[] = {postgres->connect, "osierd",           "10", "10", "5", "3",
                                  "30000",           postgres->password, NULL};

    return PQconnectdbParams(keys, values, 1);
}

bool postgres_connect(Postgres *postgres)
{
    PQfinish(postgres->connection);
    postgres->connection = open_connection(postgres);
    postgres->made++;
    postgres->sent = 0;
    postgres->lost = false;
    g_clear_pointer(&postgres->problem, g_free);
    postgres->state[0] = '\0';
    g_ptr_array_set_size(postgres->fresh, 0);
    if (PQstatus(postgres->connection) == CONNECTION_OK && set_up(postgres)) return true;
    postgres_note(postgres, NULL);
    postgres->lost = true;
    return false;
}

char *postgres_ask(Driver *driver, const char *query, const char *argument)
{
    Postgres *postgres = (Postgres *)driver;

    PQexitPipelineMode(postgres->connection);
    char *answer = postgres_value(postgres, query, argument);
    PQenterPipelineMode(postgres->connection);
    return answer;
}

bool postgres_command(Driver *driver, const char *text, char **why)
{
    Postgres *postgres = (Postgres *)driver;

    PQexitPipelineMode(postgres->connection);
    bool good = postgres_do(postgres, text);
    PQenterPipelineMode(postgres->connection);
    *why = g_steal_pointer(&postgres->problem);
    return good;
}

/* A key of 64 bits stands in two columns (PostgreSQL 15, 54.12). */
static const char IS_TAKEN[] =
    "SELECT EXISTS (SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND objsubid = 1 AND "
    "granted "
    "AND database = (SELECT oid FROM pg_database WHERE datname = current_database()) "
    "AND (classid::bigint << 32 | objid::bigint) = hashtextextended('osier ' || $1, 0))";

bool postgres_is_taken(Driver *driver, bool *taken, char **why)
{
    Postgres *postgres = (Postgres *)driver;
    g_autofree char *said = postgres_ask(driver, IS_TAKEN, postgres->schema);

    *taken = g_strcmp0(said, "t") == 0;
    if (said == NULL) *why = g_strdup("no database: it does not say whether the schema is held");
    return said != NULL;
}

bool postgres_take(Driver *driver)
{
    Postgres *postgres = (Postgres *)driver;

    PQexitPipelineMode(postgres->connection);
    postgres->taken = take(postgres);
    PQenterPipelineMode(postgres->connection);
    return postgres->taken;
}
