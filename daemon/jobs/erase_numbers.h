/* SPDX-License-Identifier: Apache-2.0 */
/* The addresses that a client ever had on record. Keyed hashes of them stay when the client is erased, so that nobody writes there
 * again by mistake. Store thread. */
#ifndef OSIER_DAEMON_JOBS_ERASE_NUMBERS_H
#define OSIER_DAEMON_JOBS_ERASE_NUMBERS_H

#include "daemon/desk/person.h"

/* Numbers and mail addresses under any of these ids (of char *): those that count first, then the latest of the earlier ones; at
 * most 64 of them. */
GPtrArray *erase_addresses(Job *job, const GPtrArray *ids);

/* Is it the address of nobody beside the client of these ids? What another client has too is not erased with this one. */
bool erase_is_own(Job *job, const char *address, const GPtrArray *ids);

/* Adds the hashes of those addresses that are the client's own. False: the folder cannot keep a key. */
bool erase_add_hashes(Job *job, const GPtrArray *addresses, const GPtrArray *ids, json_t *numbers);

/* Does the record hold this hash as an erased one's? */
bool erase_knows_hash(Job *job, const char *hash);

/* An event of another replica has come whose client is erased here, and is not yet caught up with: what it brings of addresses
 * (under another id of that client, or written where nobody had heard of the erasure) is known again too. */
void erase_numbers_heard(Job *job, const Event *event);

#endif
