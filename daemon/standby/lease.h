/* SPDX-License-Identifier: Apache-2.0 */
/* When may a process that stands by take a schema over? Once it was free for as long as the one before it may still send what it
 * had claimed, and may come back by itself. */
#ifndef OSIER_DAEMON_STANDBY_LEASE_H
#define OSIER_DAEMON_STANDBY_LEASE_H

#include "adapters/store/schema_watch.h"

/* A worker that lost the server goes on for at most so long with what it has claimed (GATE_HOLDS_MS in daemon/relay/line.c), and
 * connects again sooner than that where it can. */
#define LEASE_MS INT64_C(20000)

typedef struct {
    int64_t length_ms;
    int64_t free_since_ms; /* LEASE_NOT_FREE where it was not at the last look */
} Lease;

#define LEASE_NOT_FREE INT64_C(-1)

/* Takes in what was seen at an instant of any clock that only goes forward. True: it may be taken over now. */
bool lease_note(Lease *lease, SchemaLook seen, int64_t now_ms);

#endif
