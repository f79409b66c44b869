/* SPDX-License-Identifier: Apache-2.0 */
/* Opening a clinic's store where its settings say: the folder's own file, or a schema on a server. */
#ifndef OSIER_DAEMON_CLINIC_STORE_H
#define OSIER_DAEMON_CLINIC_STORE_H

#include "adapters/store/place.h"
#include "daemon/clock/clock.h"
#include "daemon/desk/settings.h"
#include "daemon/random.h"

/* What a store is opened with; all of it lent. */
typedef struct {
    const char *dir; /* the clinic folder */
    const Settings *settings;
    const Clock *clock; /* a made-up one wants a rehearsal's store */
    Random *random;
} ClinicStore;

/* EXIT_OK, or the code after saying that a schema is named beside a store.db. */
int clinic_store_check(const ClinicStore *at);

/* The schema and what goes with it, for as long as work is called; then the password is gone again. Only where the settings
 * name a schema. */
typedef void ClinicStoreUse(const PostgresPlace *place, void *context);
void clinic_store_with_schema(const ClinicStore *at, ClinicStoreUse *use, void *context);

/* Opens or makes it. Else *why is one line (g_free). */
OpenResult clinic_store_open(const ClinicStore *at, uv_loop_t *loop, Store **store, char **why);

/* Says why it did not open: the exit code. */
int clinic_store_fault(const ClinicStore *at, OpenResult result, const char *why);

#endif
