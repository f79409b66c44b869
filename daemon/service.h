/* SPDX-License-Identifier: Apache-2.0 */
/* All that serves one clinic: its settings, clock and store, what listens and what turns on the loop. Made in order, given new
 * settings, taken apart. What goes wrong is said on standard error, with the code to end with. */
#ifndef OSIER_DAEMON_SERVICE_H
#define OSIER_DAEMON_SERVICE_H

#include "daemon/daemon.h"
#include "daemon/hook_door.h"
#include "daemon/manager.h"
#include "daemon/options.h"
#include "daemon/page/page.h"
#include "daemon/standby/await.h"
#include "daemon/sync/sync.h"

typedef struct {
    uv_loop_t *loop;
    const Options *options;
    Manager *manager;
    Settings *settings;
    Clock *clock;
    Log *log;
    Random *random;
    Store *store;
    Net *net;
    Daemon *daemon; /* NULL: not at work yet */
    Serve *control;
    HookDoor hook_door;
    Page *page;
    Sync *sync;
    Stepper *stepper;
    Await await; /* while another works on the schema */
    bool stopping;
} Service;

/* In this order; each is EXIT_OK, or the code after saying why not. Whatever it was, service_close follows.
 * prepare: reads the settings, and sees that they can be gone by; loop and options stay the caller's.
 * open: opens the store, or turns the loop, standing by, until it has it or is stopped.
 * start: begins the work; failed is called once where the store has failed for good, or is stale. */
int service_prepare(Service *service, uv_loop_t *loop, const Options *options);
int service_open(Service *service);
int service_start(Service *service, DeskFailed *failed, void *context);

/* Says on standard output, and to the manager, that it is at work, and where nothing is sent. */
void service_tell_ready(const Service *service);

/* Takes the folder's settings anew; where they have a fault the old ones stay. */
void service_reload(Service *service);

/* Begins nothing new. False where it only stood by, and nothing is in flight. */
bool service_stop(Service *service);

/* Is nothing in flight any more? Once it is at work. */
bool service_is_done(const Service *service);

/* Stops what was not, and frees all but what still leaves: the loop is turned once more after it. */
void service_close(Service *service);

#endif
