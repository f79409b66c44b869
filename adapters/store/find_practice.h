/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what the practice room judges by: measures, absences, and how long a setting has stood.
 * Arrays hold Row and free them. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_PRACTICE_H
#define OSIER_ADAPTERS_STORE_FIND_PRACTICE_H

#include "adapters/store/store.h"

/* The measures of a client, oldest first; movement NULL for all. */
GPtrArray *find_measures(Tx *tx, const char *client, const char *movement);

/* The pauses of a client that began at or after an instant, lifted ones too, newest first. */
GPtrArray *find_pauses(Tx *tx, const char *client, int64_t since_ms);

/* The pauses, holds and suspensions of a client that were in force at some time since an instant, newest first. */
GPtrArray *find_absences(Tx *tx, const char *client, int64_t since_ms);

/* The instant at which a setting took the value that it still has, whoever wrote the same again since. INT64_MIN where it
 * has none. */
int64_t find_setting_since(Tx *tx, const char *subject, const char *field);

#endif
