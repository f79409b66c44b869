/* SPDX-License-Identifier: Apache-2.0 */
/* What the files of this room share. Private to it. */
#ifndef OSIER_DAEMON_SYNC_SYNC_INSIDE_H
#define OSIER_DAEMON_SYNC_SYNC_INSIDE_H

#include "adapters/peer/code.h"
#include "adapters/peer/parcel.h"
#include "daemon/sync/own.h"
#include "daemon/sync/sync.h"

/* Bytes in which a replica introduces itself. */
#define INTRODUCTION_MAX (64 * 1024)
/* Events in one parcel: a job's worth. */
#define EVENTS_MOST 500
/* A call that waits for news is answered after so long, news or not. */
#define WAIT_MS (4 * MINUTE_MS)

/* How the names of files begin that hold a snapshot on its way, in the clinic's folder; none outlives osierd. */
#define SNAPSHOT_PART ".snapshot-"

typedef struct Lend Lend;     /* lend.h */
typedef struct Borrow Borrow; /* borrow.h */
struct Proof;                 /* proof.h */

/* A code that is open. */
typedef struct {
    char token[TOKEN_LETTERS + 1]; /* "": none is */
    int64_t until_ms;
    int tries;
} Offer;

struct Sync {
    uv_loop_t *loop;
    Daemon *daemon;
    Desk *desk;
    char *dir;
    Own *own; /* NULL until needed */
    Net *net; /* for the visits alone, so that one that waits for news is given up at once */
    bool loopback_only;
    Serve *serve;
    char *listens; /* where, or NULL */
    Timer *every;  /* the next visit, news or not */
    Timer *soon;   /* after a change */
    Timer *wait;   /* the oldest call that waits for news */
    Offer offer;
    GHashTable
        *known; /* set of pins: of those that may call, as far as is known; NULL: not yet read */
    GPtrArray *lanes; /* of Lane: one for each peer that is called */
    GQueue *waiting;  /* of Guest: calls that wait for news, oldest first */
    Lend *lend;
    struct Proof *proof;
    int busy;
    bool stopping;
};

/* The way to one peer. */
typedef struct {
    Sync *sync;
    char *peer;
    bool talking;
    bool again; /* talk once more when this is over */
    bool listening;
    GPtrArray *callers;     /* of Caller: asked for a visit and wait for its end */
    Borrow *borrow;         /* a snapshot on its way from there, or NULL */
    int64_t borrow_from_ms; /* none is asked for before */
} Lane;

/* Who asked for a visit to every peer, and hears once each has ended. */
typedef struct {
    ServeRequest *request;
    int visits; /* not yet ended */
    char *peer; /* of a visit that went wrong, or NULL */
    char *problem;
    json_t *visited;
} Caller;

/* sync.c: a visit for a caller has ended; problem: NULL, or what went wrong. */
void caller_hears(Caller *caller, const char *peer, const char *problem);

/* The keys, read or made at first use; NULL and *why (g_free). */
const Own *sync_own(Sync *sync, char **why);

/* Who has that key is a peer from now on, and is heard. */
void sync_know(Sync *sync, const char *pin);

/* Says the replica's name on the record where it is another than before. Store thread. */
void sync_say_name(Job *job);

/* visit.c: a visit to a peer, now or as soon as the one at hand is over. */
void lane_talk(Lane *lane);
/* A call that waits at the peer for news. */
void lane_listen(Lane *lane);
void lane_free(Lane *lane);

/* guests.c: the handler of the listener; context is the Sync. And what waits there: asked again, or answered after its time. */
void guests_handle(ServeRequest *request, void *sync);
/* Is this call by somebody whose words are kept? Of others not even a body is. */
bool guests_keep(const ServeRequest *request, void *sync);
void guests_moved(Sync *sync);
void guests_timer(void *sync);
void guests_close(Sync *sync);

/* pairing.c: somebody calls with a token. */
void pairing_answer(Sync *sync, ServeRequest *request);

#endif
