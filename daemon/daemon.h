/* SPDX-License-Identifier: Apache-2.0 */
/* The whole daemon over its ports: desk, planner, relay, intake. osierd gives it the real ports,
 * the simulation the twins. */
#ifndef OSIER_DAEMON_DAEMON_H
#define OSIER_DAEMON_DAEMON_H

#include "adapters/net/net.h"
#include "daemon/clock/stepper.h"
#include "daemon/desk/desk.h"
#include "daemon/intake/intake.h"
#include "daemon/keep/keep.h"
#include "daemon/paint/painter.h"
#include "daemon/planner.h"
#include "daemon/relay/relay.h"

typedef struct {
    Clock *clock;
    Random *random;
    Store *store;
    Net *net;
    const char *dir; /* the clinic folder: spool/ and backups/ lie in it */
    uv_loop_t *loop; /* whose workers check copies, read mail and draw; NULL: done on the spot */
    Log *log;        /* NULL: nothing is logged */
} DaemonPorts;

typedef struct Daemon Daemon;

/* Builds it; nothing happens before daemon_start. Ports and settings stay the caller's. failed is
 * called once when the store has failed for good: the caller must then stop. */
Daemon *daemon_new(const DaemonPorts *ports, Settings *settings, DeskFailed *failed, void *context);
void daemon_free(Daemon *daemon);

/* Notes how long osier was away, sets the digest's time, then starts planning, sending and
 * listening. */
void daemon_start(Daemon *daemon);

/* Starts nothing more. What is in flight ends by itself: see daemon_holds. */
void daemon_stop(Daemon *daemon);
bool daemon_is_stopping(const Daemon *daemon);

/* Takes in new settings. */
void daemon_reload(Daemon *daemon, Settings *settings);

/* What keeps the daemon from being quiet: jobs, exchanges, messages in hand. Names the first. */
int daemon_holds(const Daemon *daemon, const char **what);

/* The wall clock was set. A step of over a minute is written into the ledger. */
void daemon_clock_jumped(Daemon *daemon, int64_t from_ms, int64_t to_ms);

/* Tells who shows the record to people: moved when it has grown, accounts when those who may enter
 * changed. Either may be NULL. */
typedef void DaemonTold(void *context);
void daemon_tell(Daemon *daemon, DaemonTold *moved, DaemonTold *accounts, void *context);
void daemon_accounts_changed(Daemon *daemon);

/* The part that keeps replicas in agreement, or NULL; set by the one who has the loop. grown is called when the record has
 * grown, erased when somebody's words went. */
struct Sync;
void daemon_set_sync(Daemon *daemon, struct Sync *sync, void (*grown)(struct Sync *sync),
                     void (*erased)(struct Sync *sync));
struct Sync *daemon_sync(Daemon *daemon);

Desk *daemon_desk(Daemon *daemon);
Intake *daemon_intake(Daemon *daemon);
Relay *daemon_relay(Daemon *daemon);
Keep *daemon_keep(Daemon *daemon);
Painter *daemon_painter(Daemon *daemon);

/* The stepper that moves the clock, or NULL where it runs by itself. Set by the one who has the
 * loop. */
void daemon_set_stepper(Daemon *daemon, Stepper *stepper);
Stepper *daemon_stepper(Daemon *daemon);

#endif
