/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal leaves behind: its files, and the figures that sum it up. */
#ifndef OSIER_DAEMON_REHEARSAL_RESULTS_H
#define OSIER_DAEMON_REHEARSAL_RESULTS_H

#include "daemon/rehearsal/world.h"

/* What osierd answered at the end, before it was stopped. */
typedef struct {
    json_t *messages;
    json_t *alerts;
    json_t *replies;
    json_t *unread;
    json_t *sessions; /* an object of client -> its sessions up to the end */
} Findings;

/* Asks. False where the daemon did not answer; the link's problem says why. */
bool findings_gather(Findings *findings, World *world, int days);
void findings_clear(Findings *findings);

/* Reads the ledger of a store that nobody holds any more, writes ledger.jsonl and everything else
 * into out, and returns the summary (new reference). NULL and *why (g_free) where something cannot
 * be read or written. */
json_t *results_write(const Findings *findings, World *world, const char *store, const char *out,
                      char **why);

#endif
