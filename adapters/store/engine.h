/* SPDX-License-Identifier: Apache-2.0 */
/* One connection, its prepared statements and the transaction that runs on it: what all stores share. Inside a job
 * it is the job's Tx. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_ENGINE_H
#define OSIER_ADAPTERS_STORE_ENGINE_H

#include "adapters/store/driver.h"
#include "adapters/store/rows.h"
#include "adapters/store/store.h"
#include "core/ledger/fold.h"
#include "core/ledger/same.h"
#include "core/ledger/stamp.h"

#define SCHEMA_VERSION 11

/* The end of this replica's chain. */
typedef struct {
    int64_t seq;
    Stamp clock;
    uint8_t digest[DIGEST_BYTES];
} Head;

typedef struct {
    int64_t now;
    StoreJob *job;
    StoreDone *done;
    void *context;
    bool reads; /* it may be run where nothing can be kept */
    StoreStatus status;
} Job;

/* A copy that was asked for. */
typedef struct {
    char *path;
    StoreCopied *copied;
    void *context;
    char *problem;
} CopyOrder;

static inline void copy_order_free(CopyOrder *order)
{
    g_free(order->path);
    g_free(order->problem);
    g_free(order);
}

/* Keys that were looked up and not found: what is about to be made is looked for more than once. */
#define ABSENT_COUNT 4
#define ABSENT_KEY_MAX 40
typedef struct {
    const Table *table; /* NULL: none */
    char key[ABSENT_KEY_MAX];
} Absent;

/* Where a text of SQL lay when it was last used, and what it said: nearly every one is a literal, found again so without
 * hashing it. */
#define RECENT_COUNT 512
#define RECENT_WAYS 4
typedef struct {
    const char *at;
    int table;  /* of which it is a condition; -1: it is a whole statement */
    char *text; /* a copy: what lies there may have changed */
    Statement *statement;
} Recent;

/* See gather.h. */
typedef struct Gather Gather;
/* See anew.h. */
typedef struct Anew Anew;
/* Does an event name a row of another subject? In this order: all that is greater than CROSSED_NO says yes. */
typedef enum {
    CROSSED_UNKNOWN, /* the store was not asked yet */
    CROSSED_NO,
    CROSSED_FOUND, /* by this transaction; not kept yet */
    CROSSED_KEPT   /* the store says so */
} Crossed;

struct Tx {
    Driver *driver;
    GHashTable *statements; /* SQL text -> Statement */
    Recent recent[RECENT_COUNT];
    unsigned recent_turn;
    GHashTable *updates; /* UpdateKey -> Statement */
    Statement *get[TABLE_COUNT], *put[TABLE_COUNT], *remove[TABLE_COUNT];
    Statement *append;
    Absent absent[ABSENT_COUNT]; /* of this job, until one of them is put */
    unsigned absent_turn;
    Rows *rows;     /* NULL: rows are not kept */
    Gather *gather; /* rows that are still to be written */
    bool gathering; /* another replica's event is taken in */
    char *replica;
    bool rehearsal;
    Head head;
    int64_t moves; /* events put since the store was opened */
    int64_t people_moves;
    int64_t work_moves;
    /* The client whose card was torn up last by this job, and not written since; or NULL */
    char *torn;
    int64_t now;
    GPtrArray *ids; /* event ids lent to the job */
    TxHeard *heard; /* for this job alone, or NULL */
    void *heard_context;
    /* STORE_OK, or why this transaction cannot commit: nothing more is tried in it */
    StoreStatus bad;
    bool failed;  /* for ever */
    bool full;    /* a probe comes before the next transaction */
    bool reading; /* the job only looks at what is there */
    char *problem;
    uint8_t salts[64 * SALT_BYTES];
    size_t salts_left;

    GHashTable *heads; /* other replicas' ids -> Head, as far as they were looked up */
    GArray *bounds;    /* of Bound; NULL: not read yet */
    Same *same;        /* which ids are one client's; NULL: not read yet */
    int erasing;       /* -1: not looked up; 1: somebody was erased; 0: nobody */
    bool refold; /* what was folded before no longer holds: all is folded anew when the job ends */
    Anew *anew;  /* or only what these subjects' events give; NULL: nothing */
    const char *folding; /* the subject of the event under the fold, or NULL */
    Crossed crossed;
    bool clean; /* words were taken out: the log is emptied after the commit */
};

/* Takes over the driver. */
Tx *engine_new(Driver *driver);
/* Closes the connection too. */
void engine_free(Tx *tx);

/* Runs one statement without results. False, with tx->bad set, where it fails; that may show only at a later one, but no
 * later than at the commit. */
bool engine_exec(Tx *tx, const char *sql);

/* Begins a transaction that writes; ends it for good. */
bool engine_begin(Tx *tx);
bool engine_commit(Tx *tx);

/* A prepared statement from the cache; NULL, with tx->bad set, where it cannot be made. */
Statement *engine_prepare(Tx *tx, const char *sql);

/* A select without arguments whose rows together may be more than fits, inside a transaction; to be given back as one's own. */
Statement *engine_walk(Tx *tx, const char *sql);

/* A statement for text that may be running already in an outer call: *own is true where the caller must finalize. */
Statement *engine_borrow(Tx *tx, const char *sql, bool *own);
/* The same for the rows of a table that meet a condition (see tx_rows). */
Statement *engine_borrow_rows(Tx *tx, TableId table, const char *where, bool *own);
/* The statement that sets some columns of a table's row: see sql_update. */
Statement *engine_update(Tx *tx, TableId table, uint64_t changed);
void engine_give_back(Statement *statement, bool own);

/* One step: true for a row. Anything but a row or the end sets tx->bad. */
bool engine_step(Tx *tx, Statement *statement);
/* Runs and resets a statement that gives no rows, whose failure may show only at a later one. */
void engine_quiet(Tx *tx, Statement *statement);

/* Remembers the driver's last error in plain words and what follows from it. */
void engine_error(Tx *tx);

/* A column's parameter is its number from 1. */
void engine_bind_column(Statement *statement, const Row *row, int column);
void engine_bind_row(Statement *statement, const Row *row, int columns);
Row *engine_read_row(Statement *statement, TableId table);
/* first is the number of the first of them, from 1. */
void engine_bind_arguments(Statement *statement, int first, const char *types, va_list arguments);
/* Calls for a row of any select. */
void engine_lend_result(Statement *statement, TxEach *each, void *context);

/* Makes tables, meta and the first event of a new store, in a transaction of its own. False: tx->problem. */
bool engine_birth(Tx *tx, const char *replica, bool rehearsal, int64_t now_ms);

/* Goes on with the events that are there as another replica, which has joined and not begun this clinic: what was local
 * (due, codes) is gone, and the outbox waits for whoever takes the duty to send. False: tx->problem. */
bool engine_renew(Tx *tx, const char *replica, int64_t now_ms);

/* Reads replica, mode and head of a store. False where they are missing or do not hold; tx->problem. */
bool engine_load(Tx *tx);

/* Starts this replica's clock at wall time now_ms: not behind any stamp that the ledger holds, which its people may have seen the
 * changes of. False: tx->problem. */
bool engine_recall(Tx *tx, int64_t now_ms);

/* Runs the jobs (of Job) as one transaction and sets their statuses. */
void engine_run(Tx *tx, GPtrArray *jobs);
/* Runs those of the jobs that only read, each in a transaction that leaves no trace; they end as STORE_UNDONE. For jobs that were
 * not run because there is no room. */
void engine_read(Tx *tx, GPtrArray *jobs);

/* Folds an event, seen with its stamp bounded; body is its tree or NULL. Takes the words from what an erasure names. */
void engine_fold(Tx *tx, const Event *event, const json_t *body);
/* Which ids are one client's; lent until that changes. */
const Same *engine_same(Tx *tx);
/* Takes the words from what an event erases (client.erase, redacted), as far as it is here and has any. */
void engine_take_words(Tx *tx, const Event *event, const json_t *body);
/* Nothing that was looked up counts any more. */
void engine_forget(Tx *tx);
/* May the words of such an event stay, whoever was erased? */
bool engine_keeps_words(const char *kind);
/* The client that an event's body names, lent by it; or NULL. */
const char *engine_client_in(const json_t *body);
/* Says, where nobody did, that an event has words about a client who was erased: they go, here and elsewhere. */
void engine_leave_out_words(Tx *tx, const Event *event, const char *client);
/* Puts an event that is sealed and folds it; without its words where they were erased. */
void engine_keep_event(Tx *tx, const Event *event, const json_t *body);

/* Puts an event as it is, without folding. */
void engine_insert_event(Tx *tx, const Event *event);
/* One row of any table, written whole over the one of its key; and taken out. Cards are torn up. */
void engine_put_row(Tx *tx, const Row *row);
void engine_remove_row(Tx *tx, const Row *row);
/* The fold's view of the derived tables. */
FoldTables engine_tables(Tx *tx);

/* Column list of the event table, in the order that engine_read_event takes. */
extern const char ENGINE_EVENT_COLUMNS[];
/* The texts are lent until the statement's next step. */
void engine_read_event(Statement *statement, Event *event);
/* A damaged record may lack what the table's declaration promises. */
bool engine_is_whole(const Event *event);

#endif
