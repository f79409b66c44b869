/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what only exports ask for. Arrays hold Row and free them. Inside a job, or on a copy (read.h). */
#ifndef OSIER_ADAPTERS_STORE_FIND_EXPORT_H
#define OSIER_ADAPTERS_STORE_FIND_EXPORT_H

#include "adapters/store/store.h"

/* The replica that wrote the ledger's first event (g_free), or NULL: a name that every copy of the ledger shares. */
char *find_first_replica(Tx *tx);

/* The last event about a subject: its id, author and wall time. False where there is none; strings are g_free. */
bool find_last_event(Tx *tx, const char *subject, char **id, char **author, int64_t *wall);

/* Messages, replies or alerts that belong to no client (alerts name "clinic" then), oldest first. */
GPtrArray *find_all_of_nobody(Tx *tx, TableId table);

/* How many sessions of a client in each month ("2026-03") are in each state, in order of both. */
typedef void SessionMonth(const char *month, const char *state, int count, void *context);
void find_session_months(Tx *tx, const char *client, SessionMonth *each, void *context);

/* The measures, alerts and reports of a client, oldest first. */
GPtrArray *find_all_of(Tx *tx, TableId table, const char *client);

#endif
