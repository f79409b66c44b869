/* SPDX-License-Identifier: Apache-2.0 */
/* The replicas that this one was paired with, as rows of the table peer. Store thread. */
#ifndef OSIER_DAEMON_SYNC_PEERS_H
#define OSIER_DAEMON_SYNC_PEERS_H

#include "core/ledger/vector.h"
#include "daemon/desk/desk.h"

/* The peer with that key ("sha256//..."), that may call and be called; NULL where there is none. The caller's to row_free. */
Row *peer_by_pin(Job *job, const char *pin);

/* The peer that an id, its beginning, or a name means, cut off or not; NULL where none or several do. */
Row *peer_named(Job *job, const char *name);

/* All of them (of Row), those cut off too, in the order of their pairing. */
GPtrArray *peers_all(Job *job);

/* May the peer go on under that id? One that found out that it was a copy does; nobody may take that of another peer, or of this
 * replica. */
bool peer_may_be(Job *job, const Row *peer, const char *id);

/* What a peer had when last heard of; empty where never. An array of VectorEntry. */
GArray *peer_vector(const Row *peer);
void peer_set_vector(Row *peer, const GArray *vector);

/* How far this replica is: entries that are here, and those that are here or that a peer had when last heard of. heard: has any
 * peer been heard of, or is there none? Peers that were cut off do not count. */
typedef struct {
    int64_t here, known;
    bool heard;
} Reach;
Reach peers_reach(Job *job);

/* What people call a peer: its name, else its id. Lent. */
const char *peer_name(const Row *peer);

/* A peer as JSON (new reference): how the last visit ended, and what each side lacked by own, this replica's vector. */
json_t *peer_json(const Row *peer, const GArray *own);

#endif
