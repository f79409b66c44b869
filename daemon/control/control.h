/* SPDX-License-Identifier: Apache-2.0 */
/* The JSON API on the Unix socket: finds the route, runs its handler as a job, answers after the
 * commit. */
#ifndef OSIER_DAEMON_CONTROL_CONTROL_H
#define OSIER_DAEMON_CONTROL_CONTROL_H

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"

/* The handler of the control socket; context is the Daemon. */
void control_handle(ServeRequest *request, void *daemon);

#endif
