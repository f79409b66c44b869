/* SPDX-License-Identifier: Apache-2.0 */
/* Who this replica is to the others: its keys, in the folder's secrets/, so that a copy of the store is not enough to be it. */
#ifndef OSIER_DAEMON_SYNC_OWN_H
#define OSIER_DAEMON_SYNC_OWN_H

#include <glib.h>
#include <stdbool.h>

/* How the names of bundles in the clear begin, in secrets/, while they are made or read. */
#define OWN_DRAFT ".bundle-"

typedef struct {
    char *certificate; /* secrets/replica.crt */
    char *key;         /* secrets/replica.key */
    char *pin;         /* "sha256//..." of it */
    char *seal;        /* secrets/replica.seal: what bundles for it are sealed to */
    char *open;        /* secrets/replica.open: what opens them */
} Own;

/* Has the clinic folder keys? */
bool own_made(const char *dir);

/* Reads the keys of a clinic folder; makes them, durably, where there are none. NULL and *why (g_free) where they cannot be
 * read or made. Freed with own_free. */
Own *own_load(const char *dir, char **why);
void own_free(Own *own);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Own, own_free)

/* Takes away what a bundle that was broken off left in the clear. */
void own_sweep(const char *dir);

#endif
