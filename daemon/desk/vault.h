/* SPDX-License-Identifier: Apache-2.0 */
/* What a replica keeps in its folder beside the store, so that neither a copy of the store nor a restored one is enough: the
 * keys by which erased addresses are known again, and the list of erasures. Used on the store thread alone. */
#ifndef OSIER_DAEMON_DESK_VAULT_H
#define OSIER_DAEMON_DESK_VAULT_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

#include "daemon/random.h"

typedef struct Vault Vault;

/* dir: the clinic folder. What is there is read at first use. */
Vault *vault_new(const char *dir, Random *random);
void vault_free(Vault *vault);

/* Makes the first key where there is none, so that it can be copied before it is needed. False: it cannot be kept. */
bool vault_have_key(Vault *vault);

/* "KEY HASH" of an address under every key that is known (of char *). make: a first key is made where there is none; an
 * empty array then says that none could be kept. */
GPtrArray *vault_hashes(Vault *vault, const char *address, bool make);

/* The keys as texts to hand to another replica (a JSON array, new reference), and taking in another's. */
json_t *vault_keys(Vault *vault);
void vault_add_keys(Vault *vault, const json_t *keys);

/* Adds a line to the list of erasures and syncs it; taken over. False where it cannot be kept. */
bool vault_note_erasure(Vault *vault, json_t *erasure);
/* The list as a JSON array (new reference). */
json_t *vault_erasures(Vault *vault);

/* Removes the spool's files of that message. */
void vault_drop_spooled(Vault *vault, const char *message);

#endif
