/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal leaves behind: messages, alerts, digests, the ledger, the summary. */
#ifndef OSIER_DAEMON_REHEARSAL_HARVEST_H
#define OSIER_DAEMON_REHEARSAL_HARVEST_H

#include "daemon/rehearsal/world.h"

typedef struct {
    json_t *messages; /* as the API gives them */
    json_t *alerts;
    json_t *replies;
    json_t *sessions; /* counts by state */
    char *week;       /* the digest as text */
    int64_t reports;
    int64_t events;
} Harvest;

/* Asks osierd while it runs. False where a call failed; the link says why. */
bool harvest_ask(Harvest *harvest, World *world, int days);

/* Reads the ledger of the stopped osierd's store into ledger.jsonl and counts. False with *why (g_free). */
bool harvest_ledger(Harvest *harvest, uv_loop_t *loop, const char *store, const char *out,
                    char **why);

/* Writes messages.jsonl, alerts.jsonl, the digests and summary.json. False with *why (g_free). */
bool harvest_write(const Harvest *harvest, const World *world, const char *out, int64_t end_ms,
                   char **why);

/* The summary (new reference). */
json_t *harvest_summary(const Harvest *harvest, const World *world, int64_t end_ms);
void harvest_clear(Harvest *harvest);

#endif
