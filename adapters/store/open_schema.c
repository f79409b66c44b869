/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a schema on a PostgreSQL server, and what is refused. */
#include "adapters/store/migrate.h"
#include "adapters/store/open.h"
#include "adapters/store/postgres.h"

static OpenResult refuse(OpenResult result, const OpenRequest *request, char **why,
                         const char *reason)
{
    *why = g_strdup_printf("%s: %s", request->place->schema, reason);
    return result;
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

static OpenResult count_commits(OpenRequest *request, Tx *tx, char **why)
{
    g_autofree char *problem = NULL;

    if (postgres_fence(tx->driver, request->place->fence_file, &problem)) return OPEN_OK;
    return refuse(OPEN_CANNOT, request, why, problem);
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
    if (result == OPEN_OK && request->counted) result = count_commits(request, opened, why);
    if (result == OPEN_OK)
        *tx = opened;
    else
        engine_free(opened);
    return result;
}
