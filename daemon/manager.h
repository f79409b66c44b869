/* SPDX-License-Identifier: Apache-2.0 */
/* What a service manager is told (sd_notify(3)): ready, reloading, stopping, and that the loop still turns. Silent where none
 * listens; then nothing wakes for it either. */
#ifndef OSIER_DAEMON_MANAGER_H
#define OSIER_DAEMON_MANAGER_H

#include <uv.h>

typedef struct Manager Manager;

/* Tells nothing yet. The handle it holds keeps no loop running. */
Manager *manager_new(uv_loop_t *loop);

/* The clinic folder is served: clinic names it in the manager's status line. Also after new settings. */
void manager_ready(Manager *manager, const char *clinic);
/* The same for one that waits until it may take over. */
void manager_stands_by(Manager *manager, const char *clinic);
void manager_stopping(Manager *manager);

/* Ends with the next turn of the loop. */
void manager_free(Manager *manager);

#endif
