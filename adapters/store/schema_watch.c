/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/schema_watch.h"

#include <string.h>

#include "adapters/store/postgres.h"

struct SchemaWatch {
    char *connect;
    char *password; /* or NULL */
    char *schema;
    char *fence_file; /* or NULL */
    Driver *driver;   /* NULL: not connected */
};

SchemaWatch *schema_watch_new(const PostgresPlace *place)
{
    SchemaWatch *watch = g_new0(SchemaWatch, 1);

    watch->connect = g_strdup(place->connect);
    watch->password = g_strdup(place->password);
    watch->schema = g_strdup(place->schema);
    watch->fence_file = g_strdup(place->fence_file);
    return watch;
}

static void disconnect(SchemaWatch *watch)
{
    if (watch->driver != NULL) watch->driver->calls->close(watch->driver);
    watch->driver = NULL;
}

void schema_watch_free(SchemaWatch *watch)
{
    if (watch == NULL) return;
    disconnect(watch);
    if (watch->password != NULL) explicit_bzero(watch->password, strlen(watch->password));
    g_free(watch->password);
    g_free(watch->connect);
    g_free(watch->schema);
    g_free(watch->fence_file);
    g_free(watch);
}

/* What the server says of the schema on this connection. */
static SchemaLook look(SchemaWatch *watch, char **why)
{
    bool held;

    if (!postgres_is_taken(watch->driver, &held, why) ||
        !postgres_heed_fence(watch->driver, watch->fence_file, why))
        return SCHEMA_UNSEEN;
    return held ? SCHEMA_HELD : SCHEMA_FREE;
}

SchemaLook schema_watch_look(SchemaWatch *watch, char **why)
{
    *why = NULL;
    if (watch->driver == NULL)
        watch->driver = postgres_driver_new(watch->connect, watch->password, watch->schema, why);
    SchemaLook seen = watch->driver != NULL ? look(watch, why) : SCHEMA_UNSEEN;
    /* Asked anew on a new connection: it may be another server, or the same with other settings. */
    if (seen == SCHEMA_UNSEEN) disconnect(watch);
    return seen;
}
