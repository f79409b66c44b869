/* SPDX-License-Identifier: Apache-2.0 */
/* A peer that a test plays, with a ledger of its own of very many entries, and that lends a snapshot of it, or lies. */
#ifndef OSIER_TESTS_SUPPORT_LENDING_PEER_H
#define OSIER_TESTS_SUPPORT_LENDING_PEER_H

#include "adapters/store/snapshot.h"
#include "tests/support/rogue.h"

#define LENDING_MORNING INT64_C(1772442000000) /* of REPLICAS_MONDAY */
#define LENDING_OTHER "00000000000000aa"
#define LENDING_ENTRIES 21000
#define LENDING_CLIENTS 40
#define LENDING_ERASED "AAAAAA77"
#define LENDING_PIECE (1024 * 1024)

typedef enum {
    LENDS_HONEST,
    LENDS_CUT_ONCE,
    LENDS_TORN,
    LENDS_GARBAGE,
    LENDS_ENDLESS,
    LENDS_LIES_OF_SIZE
} LendingManner;

typedef struct {
    Rogue *rogue;
    RogueHost *host;
    Store *store;
    char *folder, *copy, *file, *bytes;
    gsize length;
    SnapshotMade made;
    LendingManner manner;
    gint cuts, begun, from_start, ended;
} LendingPeer;

/* Listens. spoilt: its tables are not what its entries give. */
LendingPeer *lending_peer_new(LendingManner manner, bool spoilt);
/* Two that have the same, of which neither is called yet. */
void lending_peers_new(LendingPeer *peers[2]);
void lending_peer_free(LendingPeer *peer);

#endif
