/* SPDX-License-Identifier: Apache-2.0 */
/* The JSON API on the Unix socket: finds the endpoint, runs its handler as a job, answers after the
 * commit. */
#ifndef OSIER_DAEMON_CONTROL_CONTROL_H
#define OSIER_DAEMON_CONTROL_CONTROL_H

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"

/* Who calls from the clinic's page. */
typedef struct {
    const char *name; /* taken for every "by" */
    bool desk;        /* not a clinician */
    bool note;        /* write down that it was looked at or changed */
} ControlActor;

/* Answers a call of the JSON API that was made from the page; rights were looked at before. */
void control_call(Daemon *daemon, ServeRequest *request, const ControlActor *actor);

/* The handler of the control socket; context is the Daemon. */
void control_handle(ServeRequest *request, void *daemon);

#endif
