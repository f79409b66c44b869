/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a schema on a PostgreSQL server, and what is refused. */
#include "adapters/store/open_part.h"
#include "adapters/store/postgres.h"

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
        return open_refuse(OPEN_CANNOT, request, why, reason);
    }
    if (!postgres_take(*driver))
        return open_refuse(OPEN_IN_USE, request, why, "in use: another process holds the store");
    if (request->make && !make_schema(*driver, request->place->schema, &problem))
        return open_refuse(OPEN_CANNOT, request, why, problem);
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
    return open_refuse(OPEN_CANNOT, request, why, problem);
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
        result = open_loaded(request, opened, why);
    else if (!request->bare)
        result = open_born(request, opened, "no store there", why);
    if (result == OPEN_OK && request->counted) result = count_commits(request, opened, why);
    if (result == OPEN_OK)
        *tx = opened;
    else
        engine_free(opened);
    return result;
}
