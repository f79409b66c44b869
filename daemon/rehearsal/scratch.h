/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal needs of the machine for a while: free ports and a folder. */
#ifndef OSIER_DAEMON_REHEARSAL_SCRATCH_H
#define OSIER_DAEMON_REHEARSAL_SCRATCH_H

#include <glib.h>
#include <stdbool.h>

/* Two ports of 127.0.0.1 that nobody listens on. */
bool scratch_free_ports(int *one, int *other);

/* Moves a file into a folder, also across devices. False and *why (g_free) where it cannot. */
bool scratch_move(const char *file, const char *folder, char **why);

/* Removes a folder with all that is in it; links are removed, not followed. */
void scratch_remove(const char *folder);

#endif
