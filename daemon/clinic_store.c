/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/clinic_store.h"

#include <string.h>

#include "adapters/store/store_postgres.h"
#include "daemon/cli/cli.h"

static char *own_file(const ClinicStore *at)
{
    return g_build_filename(at->dir, "store.db", NULL);
}

int clinic_store_check(const ClinicStore *at)
{
    const char *schema = settings_clinic(at->settings)->store_schema;
    g_autofree char *file = own_file(at);

    if (schema == NULL || !g_file_test(file, G_FILE_TEST_EXISTS)) return EXIT_OK;
    return cli_fault(EXIT_NOT_ALLOWED, "store", schema,
                     "the clinic has its records in %s, and who has stopped stands there; take "
                     "store: out of clinic.yaml, or move the file away to begin anew",
                     file);
}

void clinic_store_with_schema(const ClinicStore *at, ClinicStoreUse *use, void *context)
{
    const Clinic *clinic = settings_clinic(at->settings);
    char *password = clinic->store_password != NULL
                         ? settings_fill_secret(at->settings, clinic->store_password)
                         : NULL;
    g_autofree char *fence = g_build_filename(at->dir, "store.fence", NULL);

    use(&(PostgresPlace){.connect = clinic->store_connect,
                         .password = password,
                         .schema = clinic->store_schema,
                         .fence_file = fence},
        context);
    if (password != NULL) explicit_bzero(password, strlen(password));
    g_free(password);
}

typedef struct {
    const ClinicStore *at;
    uv_loop_t *loop;
    StoreMode mode;
    const char *replica;
    Store **store;
    OpenResult result;
    char **why;
} Try;

static void open_there(const PostgresPlace *place, void *context)
{
    Try *try = context;

    try->result = store_postgres_open(try->loop, place, try->mode, try->replica,
                                      clock_now(try->at->clock), try->store, try->why);
}

OpenResult clinic_store_open(const ClinicStore *at, uv_loop_t *loop, Store **store, char **why)
{
    g_autofree char *replica =
        g_strdup_printf("%016" G_GINT64_MODIFIER "x", random_number(at->random, "replica"));
    Try try = {.at = at,
               .loop = loop,
               .mode = clock_is_virtual(at->clock) ? STORE_REHEARSAL : STORE_LIVE,
               .replica = replica,
               .store = store,
               .why = why};

    if (settings_clinic(at->settings)->store_schema != NULL) {
        clinic_store_with_schema(at, open_there, &try);
        return try.result;
    }
    g_autofree char *file = own_file(at);
    return store_sqlite_open(loop, file, try.mode, replica, clock_now(at->clock), store, why);
}

int clinic_store_fault(const ClinicStore *at, OpenResult result, const char *why)
{
    g_autofree char *file = own_file(at);
    const char *schema = settings_clinic(at->settings)->store_schema;
    const char *path = schema != NULL ? schema : file;
    g_autofree char *place = g_strconcat(path, ": ", NULL);

    /* Some reasons begin with the file themselves; once is enough. */
    if (why != NULL && g_str_has_prefix(why, place)) why += strlen(place);
    switch (result) {
    case OPEN_OK: return EXIT_OK;
    case OPEN_IN_USE: return cli_fault(EXIT_LATER, "store", path, "%s", why);
    case OPEN_OTHER_MODE: return cli_fault(EXIT_NOT_ALLOWED, "store", path, "%s", why);
    case OPEN_NO_STORE:
    case OPEN_NEWER: return cli_fault(EXIT_DATA, "store", path, "%s", why);
    case OPEN_CANNOT: return cli_fault(EXIT_CANNOT_MAKE, "store", path, "%s", why);
    }
    g_assert_not_reached();
}
