/* SPDX-License-Identifier: Apache-2.0 */
/* The real osierd, started beside this program on a rehearsal's folder, and stopped again. */
#ifndef OSIER_DAEMON_REHEARSAL_CHILD_H
#define OSIER_DAEMON_REHEARSAL_CHILD_H

#include <glib.h>
#include <stdbool.h>
#include <uv.h>

typedef struct Child Child;

/* Starts the osierd that lies beside the running program, stepped, its clock at the instant and its
 * chance drawn from seed. What it says on standard output is dropped, its complaints are kept.
 * NULL and *why (g_free) where it cannot be started. */
Child *child_start(uv_loop_t *loop, const char *dir, const char *clock, gint64 seed, char **why);

/* Passes on, to standard error, what it complained of so far. */
void child_tell(Child *child);

bool child_runs(const Child *child);

/* The exit code once it runs no more; 128 and the signal where one ended it. */
int child_code(const Child *child);

/* Tells it to finish (SIGTERM) and lets the loop turn until it has; after a minute it is killed. */
void child_stop(Child *child);
void child_free(Child *child);

#endif
