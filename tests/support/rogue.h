/* SPDX-License-Identifier: Apache-2.0 */
/* A replica that a test plays itself, so that it can lie: it has a key, may be paired with a real one, calls it, or is called by
 * it, and writes what events it likes. */
#ifndef OSIER_TESTS_SUPPORT_ROGUE_H
#define OSIER_TESTS_SUPPORT_ROGUE_H

#include "adapters/peer/parcel.h"

typedef struct {
    char replica[17];
    char *certificate;
    char *key;
    char *seal;
    char *open;
    int64_t seq; /* of its chain */
    uint8_t digest[DIGEST_BYTES];
} Rogue;

/* With a new key. id: 16 hex digits. */
Rogue *rogue_new(const char *id);
void rogue_free(Rogue *rogue);

/* Any call over TLS, at most by version 1.2 where old; rogue NULL: without a certificate. The status, 0 where there was no answer;
 * heard gets headers and body. */
long rogue_asks(const Rogue *rogue, int port, const char *method, const char *path, GBytes *body,
                bool old, GString *heard);

/* Pairs with the replica that shows a code on that port: the status. */
long rogue_meets(const Rogue *rogue, int port, const char *code, const char *clinic);

/* Posts a parcel, which is freed: what was answered, or NULL and *status. */
Parcel *rogue_visits(const Rogue *rogue, int port, Parcel *parcel, long *status);

/* Writes an event of its own chain into a parcel and counts it in the parcel's vector. body: JSON, not checked. */
void rogue_writes(Rogue *rogue, Parcel *into, int64_t wall, const char *kind, const char *subject,
                  const char *body);

/* Called by a real replica, on a thread of its own: the answer to a parcel, the caller's to free; NULL: bytes that are no
 * parcel. */
typedef Parcel *RogueAnswer(const Parcel *question, void *context);

typedef struct RogueHost RogueHost;

/* Called by a real replica for a snapshot: what is answered (g_bytes_unref), and *status. */
typedef GBytes *RogueLend(const json_t *question, int *status, void *context);
/* From then on; before, it has none. context is that of the host. */
void rogue_host_lends(RogueHost *host, RogueLend *lend);

/* Listens, pairs with whoever calls, and answers. */
RogueHost *rogue_host_new(const Rogue *rogue, RogueAnswer *answer, void *context);
void rogue_host_free(RogueHost *host);
int rogue_host_port(const RogueHost *host);
/* The code to be typed at the other side (g_free). */
char *rogue_host_code(const RogueHost *host);

#endif
