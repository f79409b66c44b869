/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/standby/await.h"

#include "daemon/cli/cli.h"
#include "daemon/standby/lease.h"

/* The keys by which erased numbers and the links in mails are known must be the same wherever the clinic is worked for. */
int await_check(const ClinicStore *place)
{
    g_autofree char *keys = g_build_filename(place->dir, "secrets", "numbers.key", NULL);

    if (settings_clinic(place->settings)->store_schema == NULL)
        return cli_fault(EXIT_USE, "--stand-by", place->dir,
                         "goes with a store on a server: see store: in clinic.yaml");
    if (!g_file_test(keys, G_FILE_TEST_EXISTS))
        return cli_fault(EXIT_SETTINGS, "--stand-by", keys,
                         "is not there: start the clinic's first osierd once without --stand-by, "
                         "then copy its secrets/");
    return EXIT_OK;
}

static void on_free(void *context)
{
    Await *await = context;

    uv_stop(await->loop);
}

static void begin(const PostgresPlace *place, void *context)
{
    Await *await = context;
    /* Under a made-up clock claims age by that clock. */
    int64_t lease_ms = clock_is_virtual(await->place.clock) ? 0 : LEASE_MS;

    await->standby = standby_new(await->loop, place, await->log, lease_ms, on_free, await);
}

static OpenResult try_to_open(Await *await, Store **store, char **why)
{
    OpenResult result = clinic_store_open(&await->place, await->loop, store, why);
    bool open = result == OPEN_OK;

    log_line(await->log, open ? LOG_PLAIN : LOG_WARNINGS,
             open ? "standby.takes_over" : "standby.waits", "why", *why, NULL);
    return result;
}

int await_store(Await *await, Store **store)
{
    OpenResult result = OPEN_IN_USE;
    g_autofree char *why = NULL;

    while (result == OPEN_IN_USE || result == OPEN_CANNOT) {
        clinic_store_with_schema(&await->place, begin, await);
        uv_run(await->loop, UV_RUN_DEFAULT);
        g_clear_pointer(&why, g_free);
        if (!await->stopped) result = try_to_open(await, store, &why);
        standby_close(g_steal_pointer(&await->standby));
        if (await->stopped) return EXIT_OK;
    }
    return clinic_store_fault(&await->place, result, why);
}
