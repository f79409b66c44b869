/* SPDX-License-Identifier: Apache-2.0 */
/* The store port: jobs on one thread, each load-decide-write in one transaction, queued jobs committed together.
 * store_sqlite is the real one, store_memory the twin (SQLite in memory, run when the owner pumps). */
#ifndef OSIER_ADAPTERS_STORE_STORE_H
#define OSIER_ADAPTERS_STORE_STORE_H

#include "core/ledger/event.h"
#include "core/ledger/table.h"
#include "core/ledger/vector.h"

typedef struct Store Store;
typedef struct Tx Tx;

typedef enum {
    STORE_OK,
    STORE_UNDONE, /* the job said no: what it wrote is rolled back, others are not touched */
    STORE_FULL,   /* no room on the device: nothing was kept; try again later */
    STORE_AWAY,   /* the database cannot be reached or cannot write now: the same */
    /* Another process wrote, or a commit whose answer was lost was kept after all: what this process knows of the store no
     * longer holds, and it writes nothing more. Nothing is wrong with the store: a new start goes on from there. */
    STORE_STALE,
    STORE_FAILED /* the device lied or the store is broken: nothing more is written; the daemon must stop */
} StoreStatus;

/* Nothing was kept this time, and another try may do. */
static inline bool store_passes(StoreStatus status)
{
    return status == STORE_FULL || status == STORE_AWAY;
}

/* Runs on the store thread. False undoes this job alone. */
typedef bool StoreJob(Tx *tx, void *context);

/* Runs on the loop after the commit (or the failure), in the order of submission. */
typedef void StoreDone(StoreStatus status, void *context);

/* A copy has ended, on the loop: problem is NULL where it is whole and synced, else one line, and its file is gone. */
typedef void StoreCopied(const char *problem, void *context);

struct Store {
    void (*submit)(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context);
    /* The same for a job that only reads: while there is no room on the device it is run all the same, ends as STORE_UNDONE, and
     * nothing that it writes is kept (see tx_is_reading). */
    void (*read)(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context);
    /* Copies the store into a new file while jobs go on; copies wait for one another. While the store closes none is made, and
     * copied is called at once. */
    void (*copy)(Store *store, const char *path, StoreCopied *copied, void *context);
    int (*pending)(const Store *store); /* submitted, and what they call back not yet returned */
    void (*close)(Store *store);        /* runs what is queued, commits, checkpoints, frees */
    const char *(*problem)(const Store *store); /* plain words of what was not kept last, or NULL */
};

static inline void store_submit(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done,
                                void *context)
{
    store->submit(store, now_ms, job, done, context);
}

static inline void store_read(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done,
                              void *context)
{
    store->read(store, now_ms, job, done, context);
}

/* --- inside a job ------------------------------------------------------------------------------------------------- */

/* The instant that the job was submitted with. */
int64_t tx_now(const Tx *tx);

/* Is there no room on the device, and this job let look at what is there? What it writes is not kept. */
bool tx_is_reading(const Tx *tx);

/* Has the database gone away, or refused something, since the job began? Every read finds nothing from then on, whatever is there,
 * and nothing that the job writes is kept. The job need not ask: it is tried again. It asks before it takes what is not found for
 * a mistake of its own. */
bool tx_is_lost(const Tx *tx);

/* Grows with each event that this process has put into the ledger, its own and others'. */
int64_t tx_moves(const Tx *tx);

/* Changes whenever settings, contacts or bars may have changed, a change that was undone included: what was read of people
 * before may be used again while it stays the same. */
int64_t tx_people_moves(const Tx *tx);

/* The same of what is due, of what is to be sent, and of this replica's own notes (meta). */
int64_t tx_work_moves(const Tx *tx);

/* This replica's id, 16 hex digits. */
const char *tx_replica(const Tx *tx);

/* Appends an event with the next seq, stamp and chain, and folds it into the derived tables. body is taken over; it must
 * be an object. base may be NULL. The event's id is returned, owned by tx until the job ends. */
const char *tx_append(Tx *tx, const char *kind, const char *subject, const char *author,
                      const char *base, json_t *body);

/* Hears of each event that is put into the ledger until the job ends, this replica's own and others'. body is its tree, or
 * NULL where it is erased; both are lent. The job may still be undone. */
typedef void TxHeard(const Event *event, const json_t *body, void *context);
void tx_hear(Tx *tx, TxHeard *heard, void *context);

/* What became of an event that another replica wrote. */
typedef enum {
    ACCEPT_NEW,   /* it is in the ledger now, and folded */
    ACCEPT_KNOWN, /* it was there, the same */
    ACCEPT_GAP, /* those of its replica before it are missing, or the store is lost: nothing changed */
    ACCEPT_FORK,  /* another event has its number here: a store was copied. Nothing changed */
    ACCEPT_BROKEN /* its hash does not hold: nothing changed */
} Accepted;

/* Takes in an event as it was written elsewhere; its form was checked (event_fault). A stamp too far ahead is bounded by an
 * event of this replica's own; words that were erased are left out. An event of this replica's own id that it lacks is
 * ACCEPT_GAP: see tx_rename. */
Accepted tx_accept(Tx *tx, const Event *event);

/* The last event of each replica that the ledger holds, in the order of the ids (GArray of VectorEntry). */
GArray *tx_vector(Tx *tx);

/* The digest of one event; false where it is not here. */
bool tx_digest(Tx *tx, const char *replica, int64_t seq, uint8_t *digest);

/* The event as it counts: the same, or with its stamp bounded where a clock.bounded says so. For every comparison of stamps: one
 * from a wrong clock lies anywhere. Texts are lent by event. */
Event tx_seen(Tx *tx, const Event *event);

/* The id that a client's id is kept under, where it was said that several are one client's; else itself. Lent until the next
 * event is put. And all the ids of that client (GPtrArray of char *, freed with it), this one among them. */
const char *tx_one(Tx *tx, const char *client);
GPtrArray *tx_all_of(Tx *tx, const char *client);

/* Was anybody ever erased? */
bool tx_has_erased(Tx *tx);

/* Folds anew at once what no longer holds, where an event said so; else it is done when the job ends. */
void tx_catch_up(Tx *tx);

/* Goes on under another id of 16 hex digits, from which nothing was written yet: for a store that turned out to be a copy.
 * Writes replica.joined. What it wrote under the old id after the event numbered shared is not what others have under those
 * numbers: it is written anew under the new id, ids that it names among it too, and taken from the old one's chain. */
void tx_rename(Tx *tx, const char *replica, int64_t shared);

/* The row of a key: a row of the table with its key columns set. NULL where there is none. The caller's to row_free. */
Row *tx_get(Tx *tx, const Row *key);

/* tx_get for a table whose key is one text. */
Row *tx_get_text(Tx *tx, TableId table, const char *key);

/* Local tables only (asserted). */
void tx_put(Tx *tx, const Row *row);
void tx_delete(Tx *tx, const Row *key);

/* One value of the meta table (g_free), or NULL; and setting it. */
char *tx_meta(Tx *tx, const char *key);
void tx_set_meta(Tx *tx, const char *key, const char *value);

/* Does each answer come from another process, which is waited for? Then what a job asks for again and again is better asked for
 * together, before. */
bool tx_is_far(const Tx *tx);

/* Rows that will be asked for by their keys, read together where the store is far; else nothing is done. keys are texts (lent),
 * NULL among them allowed; of a table whose key is two texts, first is the first of them all, else NULL. */
void tx_fetch(Tx *tx, TableId table, const char *first, const GPtrArray *keys);

/* --- for the finders of this room (find_*.h), not for others ------------------------------------------------------- */

/* Rows (GPtrArray of Row with free function) of a table that meet a condition with what may follow it: "client = ?1 ORDER BY at
 * LIMIT 5". where may be "", may begin with ORDER or LIMIT, and uses ?1, ?2 ...; types names the arguments: t text (const char
 * *, NULL allowed), i integer (int64_t), r real (double). */
GPtrArray *tx_rows(Tx *tx, TableId table, const char *where, const char *types, ...);

/* Any select; one call of each for each result row with its columns as texts (NULL for null) and integers. */
typedef struct {
    int columns;
    const char *const *text;
    const int64_t *integer;
    const double *real;
} TxResult;
typedef void TxEach(const TxResult *result, void *context);
void tx_select(Tx *tx, const char *sql, TxEach *each, void *context, const char *types, ...);
void tx_select_list(Tx *tx, const char *sql, TxEach *each, void *context, const char *types,
                    va_list arguments);

/* The same where the store is far, and only there: AMONG in the text is a comparison with a list of texts, and types tells of the
 * arguments from ?2 on. */
bool tx_can_be_among(const char *text); /* others are left out */
void tx_select_among(Tx *tx, const char *sql, const GPtrArray *among, TxEach *each, void *context,
                     const char *types, ...);

/* Statements that change local tables in bulk; the number of rows changed. */
int tx_change(Tx *tx, const char *sql, const char *types, ...);

/* Events that meet a condition as in tx_rows; in order of (wall, logical, replica, seq) unless it says ORDER BY. Each is lent
 * for the call, which returns false to stop. */
typedef bool TxEvent(const Event *event, void *context);
void tx_events(Tx *tx, const char *where, TxEvent *each, void *context, const char *types, ...);

#endif
