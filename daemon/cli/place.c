/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/place.h"

#include <string.h>

static void begin(const Cli *cli, ClinicPlace *place)
{
    *place = (ClinicPlace){.file = g_build_filename(cli->clinic, "store.db", NULL),
                           .faults = g_ptr_array_new_with_free_func(g_free)};
}

void clinic_place_find(const Cli *cli, ClinicPlace *place)
{
    begin(cli, place);
    if (!g_file_test(place->file, G_FILE_TEST_EXISTS)) clinic_place_read(cli, place);
}

void clinic_place_read(const Cli *cli, ClinicPlace *place)
{
    if (place->file == NULL) begin(cli, place);
    place->settings = settings_load(cli->clinic, place->faults);
    if (place->settings == NULL) return;
    const Clinic *clinic = settings_clinic(place->settings);
    if (clinic->store_password != NULL)
        place->password = settings_fill_secret(place->settings, clinic->store_password);
    place->schema = (PostgresPlace){.connect = clinic->store_connect,
                                    .password = place->password,
                                    .schema = clinic->store_schema};
}

void clinic_place_clear(ClinicPlace *place)
{
    if (place->password != NULL) explicit_bzero(place->password, strlen(place->password));
    g_free(place->password);
    g_free(place->file);
    if (place->faults != NULL) g_ptr_array_unref(place->faults);
    settings_unref(place->settings);
    *place = (ClinicPlace){0};
}

StorePlace clinic_place_store(const ClinicPlace *place)
{
    bool elsewhere = place->schema.schema != NULL && !g_file_test(place->file, G_FILE_TEST_EXISTS);

    return (StorePlace){.file = place->file, .schema = elsewhere ? &place->schema : NULL};
}
