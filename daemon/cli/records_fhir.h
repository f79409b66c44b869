/* SPDX-License-Identifier: Apache-2.0 */
/* The store as FHIR resources in files. */
#ifndef OSIER_DAEMON_CLI_RECORDS_FHIR_H
#define OSIER_DAEMON_CLI_RECORDS_FHIR_H

#include "adapters/store/read.h"

/* One client as a Bundle in a new file, or (client NULL) the whole clinic as TYPE.ndjson in an empty folder. A client at a time
 * is in memory. resources: how many. NULL, or one line on what could not be written (g_free). */
char *records_fhir(Tx *tx, const char *client, const char *out, int64_t *resources);

#endif
