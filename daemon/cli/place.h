/* SPDX-License-Identifier: Apache-2.0 */
/* Where the store of a clinic's folder is, for commands that want osierd stopped. */
#ifndef OSIER_DAEMON_CLI_PLACE_H
#define OSIER_DAEMON_CLI_PLACE_H

#include "adapters/store/place.h"
#include "daemon/cli/cli.h"
#include "daemon/desk/settings.h"

typedef struct {
    char *file;         /* the folder's store.db, which need not be there */
    Settings *settings; /* NULL: they were not read, or have faults */
    GPtrArray *faults;
    char *password;
    PostgresPlace schema; /* .schema is NULL where the settings name none */
} ClinicPlace;

/* Reads the folder's settings, faults and all, where they alone can tell: a file that is there is where the store is. To be
 * cleared. */
void clinic_place_find(const Cli *cli, ClinicPlace *place);

/* Reads them in any case. place: zeroed, or found. To be cleared. */
void clinic_place_read(const Cli *cli, ClinicPlace *place);
void clinic_place_clear(ClinicPlace *place);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ClinicPlace, clinic_place_clear)

/* Where osierd would open it: the schema, if the settings name one and no file is there. What it points to is lent. */
StorePlace clinic_place_store(const ClinicPlace *place);

#endif
