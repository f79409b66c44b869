/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a schema on a PostgreSQL server: what the server must promise, and what is refused. */
#include <stdlib.h>

#include "adapters/store/migrate.h"
#include "adapters/store/open.h"
#include "adapters/store/postgres.h"

/* pg_current_xact_id came with it. */
#define VERSION_LEAST 130000

static OpenResult refuse(OpenResult result, const OpenRequest *request, char **why,
                         const char *reason)
{
    *why = g_strdup_printf("%s: %s", request->place->schema, reason);
    return result;
}

static bool is(Driver *driver, const char *query, const char *expected)
{
    g_autofree char *answer = postgres_ask(driver, query, NULL);

    return g_strcmp0(answer, expected) == 0;
}

/* What a server must promise. NULL: it does; else one line. */
static const char *lacking(Driver *driver)
{
    g_autofree char *version = postgres_ask(driver, "SHOW server_version_num", NULL);

    if (version == NULL || atoi(version) < VERSION_LEAST)
        return "the server is older than PostgreSQL 13";
    if (!is(driver, "SHOW server_encoding", "UTF8")) return "the database's encoding is not UTF8";
    if (is(driver, "SELECT pg_is_in_recovery()", "t"))
        return "the server is a standby, which cannot be written to";
    if (is(driver, "SHOW transaction_read_only", "on")) return "the database is read-only";
    if (is(driver, "SHOW fsync", "off"))
        return "fsync is off at the server: a power cut would lose the store";
    if (is(driver, "SHOW synchronous_commit", "off"))
        return "synchronous_commit is off: a crash of the server would lose messages that were "
               "told to be safe; set it on";
    return NULL;
}

static OpenResult refuse_damaged(OpenRequest *request, char **why, const char *how)
{
    g_autofree char *reason = g_strdup_printf("damaged: %s", how);

    request->damaged = true;
    return refuse(OPEN_NO_STORE, request, why, reason);
}

static OpenResult load(OpenRequest *request, Tx *tx, char **why)
{
    g_autofree char *damage = migrate_lacking(tx);

    if (damage != NULL) return refuse_damaged(request, why, damage);
    if (migrate_version(tx) > SCHEMA_VERSION)
        return refuse(OPEN_NEWER, request, why, "written by a newer osier: use that, or a backup");
    if (!migrate_forward(tx) || (!engine_load(tx) && !request->checking))
        return refuse_damaged(request, why, tx->problem);
    if (!request->checking && tx->rehearsal != (request->mode == STORE_REHEARSAL))
        return refuse(OPEN_OTHER_MODE, request, why,
                      tx->rehearsal ? "a rehearsal's store: it does not open live"
                                    : "a live store: it does not open for a rehearsal");
    return OPEN_OK;
}

static OpenResult be_born(OpenRequest *request, Tx *tx, char **why)
{
    if (!request->make) return refuse(OPEN_NO_STORE, request, why, "no store there");
    if (engine_birth(tx, request->replica, request->mode == STORE_REHEARSAL, request->now_ms))
        return OPEN_OK;
    return refuse(OPEN_CANNOT, request, why, tx->problem);
}

static bool make_schema(Driver *driver, const char *schema, char **problem)
{
    g_autofree char *there =
        postgres_ask(driver, "SELECT 1 FROM pg_namespace WHERE nspname = $1", schema);
    g_autofree char *create = g_strdup_printf("CREATE SCHEMA \"%s\"", schema);

    return there != NULL || postgres_command(driver, create, problem);
}

/* A driver whose schema is held by nobody else; request->empty where nothing is in it. */
static OpenResult connect_to(OpenRequest *request, Driver **driver, char **why)
{
    g_autofree char *problem = NULL;

    *driver = postgres_driver_new(request->place->connect, request->place->password,
                                  request->place->schema, &problem);
    if (*driver == NULL) {
        g_autofree char *reason = g_strconcat("no database: ", problem, NULL);
        return refuse(OPEN_CANNOT, request, why, reason);
    }
    const char *lacks = lacking(*driver);
    if (lacks != NULL) return refuse(OPEN_CANNOT, request, why, lacks);
    if (!postgres_take(*driver))
        return refuse(OPEN_IN_USE, request, why, "in use: another process holds the store");
    if (request->make && !make_schema(*driver, request->place->schema, &problem))
        return refuse(OPEN_CANNOT, request, why, problem);
    g_autofree char *relations = postgres_ask(
        *driver, "SELECT count(*) FROM pg_class WHERE relnamespace = to_regnamespace($1)",
        request->place->schema);
    request->empty = g_strcmp0(relations, "0") == 0;
    return OPEN_OK;
}

OpenResult open_schema(OpenRequest *request, Tx **tx, char **why)
{
    Driver *driver = NULL;
    OpenResult result = connect_to(request, &driver, why);

    *tx = NULL;
    if (result != OPEN_OK) {
        if (driver != NULL) driver->calls->close(driver);
        return result;
    }
    Tx *opened = engine_new(driver);
    if (!request->empty)
        result = load(request, opened, why);
    else if (!request->bare)
        result = be_born(request, opened, why);
    if (result == OPEN_OK)
        *tx = opened;
    else
        engine_free(opened);
    return result;
}
