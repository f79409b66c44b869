/* SPDX-License-Identifier: Apache-2.0 */
/* The desk on the loop from which jobs go to the store thread, and the work at hand inside one of
 * them: what it may see and where its results go. */
#ifndef OSIER_DAEMON_DESK_DESK_H
#define OSIER_DAEMON_DESK_DESK_H

#include "adapters/store/store.h"
#include "daemon/clock/clock.h"
#include "daemon/desk/people.h"
#include "daemon/desk/settings.h"
#include "daemon/desk/vault.h"
#include "daemon/log/log.h"
#include "daemon/log/told.h"
#include "daemon/random.h"
#include "daemon/zones.h"

struct Grant; /* daemon/jobs/claim.h */
struct Ahead; /* daemon/jobs/ahead.h */

/* Inside a job, on the store thread. Passed first to everything that decides and writes. */
typedef struct {
    Tx *tx;
    const Settings *settings;
    const Clinic *clinic;
    Zones *zones;
    People *people; /* NULL: each is read anew */
    Random *random;
    Vault *vault;        /* NULL where there is no folder */
    struct Grant *grant; /* to claim messages as they are made; NULL: they wait in the outbox */
    struct Ahead *ahead; /* what a batch asked for before it began, until it ends; NULL: nothing */
    int64_t now_ms;
    bool made_up; /* the clock is stepped or fast */
    bool sender;  /* this replica sends; another only records what people enter */
    bool posted;  /* set by the job: something was put into the outbox, or put off */
    bool
        erased; /* set by the job: somebody's words went by what it took in whole, of which it wrote no event */
} Job;

/* A zone, never NULL: zones were checked when they came in; one that has since left the zone
 * database is read as the clinic's own. */
GTimeZone *job_zone(Job *job, const char *id);
GTimeZone *job_clinic_zone(Job *job);

/* The local day of now in such a zone, and a stretch of its time to work out instants by. */
const ZoneDay *job_day(Job *job, const char *id);
ZoneStretch *job_near(Job *job, const char *id);

typedef struct Desk Desk;
typedef bool JobRun(Job *job, void *context);
typedef void JobDone(StoreStatus status, void *context);

/* In meta: a number that grows with each job in which somebody's words went; "" or none: no copy of the store holds such words any
 * more. */
#define DESK_ERASED "erased"

/* Called on the loop after each job: the instants at which something is to be done next. */
typedef struct {
    int64_t due_ms;     /* the next due thing; INT64_MAX: none */
    int64_t send_ms[2]; /* the next message that may be tried, by channel: sms, email */
    bool posted;        /* there may be more to send than before */
    /* of ids of clients about whom something was written that may bar a message, send it elsewhere or word it anew; NULL: none.
     * Lent */
    const GPtrArray *barred;
    bool erased;   /* somebody's words went: who was erased, or an import that was taken back */
    int64_t moves; /* grows with each event in the ledger */
    bool sender;   /* this replica sends; where not, nothing is due and nothing goes out */
    /* the first job kept since the device was full or the store away: what was not kept then may be tried again */
    bool again;
} DeskNext;
typedef void DeskChanged(const DeskNext *next, void *context);

/* Called once when the store has failed for good, or is stale. */
typedef void DeskFailed(StoreStatus status, const char *problem, void *context);

/* The ports stay the caller's. */
Desk *desk_new(Store *store, Clock *clock, Random *random, Settings *settings);
void desk_free(Desk *desk);
void desk_watch(Desk *desk, DeskChanged *changed, DeskFailed *failed, void *context);

/* What lies in the folder beside the store; stays the caller's. */
void desk_set_vault(Desk *desk, Vault *vault);

/* Where it is written down what jobs did, once it is kept, and what goes on. NULL, as at first: nowhere. Stays the
 * caller's. */
void desk_set_log(Desk *desk, Log *log);
Log *desk_log(const Desk *desk);

/* What was written since the desk was made. */
const Tally *desk_tally(const Desk *desk);

/* Swaps the settings; jobs already submitted keep the old ones. */
void desk_set_settings(Desk *desk, Settings *settings);
Settings *desk_settings(Desk *desk);
Clock *desk_clock(Desk *desk);
Random *desk_random(Desk *desk);
Store *desk_store(Desk *desk);

/* Runs a job; done is called on the loop, may be NULL. */
void desk_submit(Desk *desk, JobRun *run, JobDone *done, void *context);

/* The same for a job that only reads: it is run although there is no room on the device, ends as STORE_UNDONE then, and nothing
 * that it writes is kept. Where the lack of room is found out with this very job it is run twice: it begins by letting go of
 * what it found before. */
void desk_read(Desk *desk, JobRun *run, JobDone *done, void *context);

/* What clients wrote, on its way through the desk: daemon/intake/take_in.c. */
typedef struct {
    int storing; /* jobs that store some, under way */
    int unread;  /* messages stored since the desk was made and not read yet */
    bool reading;
} DeskTray;
DeskTray *desk_tray(Desk *desk);

/* Did a job that only reads, and never says no, see what is there? */
static inline bool desk_has_read(StoreStatus status)
{
    return status == STORE_OK || status == STORE_UNDONE;
}

/* Had this replica the sender's duty when the last job ended? True until one has. */
bool desk_is_sender(const Desk *desk);

/* The store found no room or was away, and no job has been kept since. The desk tries now and then whether
 * it keeps one again. */
bool desk_is_full(const Desk *desk);

/* The store has failed for good. */
bool desk_is_broken(const Desk *desk);

#endif
