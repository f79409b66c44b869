/* SPDX-License-Identifier: Apache-2.0 */
/* Standing by, from the start of osierd until it has the store. */
#ifndef OSIER_DAEMON_STANDBY_AWAIT_H
#define OSIER_DAEMON_STANDBY_AWAIT_H

#include "daemon/clinic_store.h"
#include "daemon/standby/standby.h"

typedef struct {
    uv_loop_t *loop;
    ClinicStore place;
    Log *log;
    Standby *standby; /* what looks, for standby_answer; else NULL */
    bool stopped;     /* set, with uv_stop, by whoever wants an end */
} Await;

/* EXIT_OK where this folder can stand by; else the code after saying what is missing. */
int await_check(const ClinicStore *place);

/* Turns the loop until the schema was free for long enough, and opens it. Another may be quicker or the server gone again: then
 * it goes on waiting. EXIT_OK with the store, or without one where it was stopped; else the code after saying why it cannot be
 * opened. */
int await_store(Await *await, Store **store);

#endif
