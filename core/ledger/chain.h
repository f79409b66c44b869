/* SPDX-License-Identifier: Apache-2.0 */
/* The hash chain of a replica's events: digest = SHA-256(previous digest, header, body_hash), body_hash = SHA-256(salt,
 * body). Every field goes in with its length, so no two headers read alike. A body can be blanked and the chain still
 * verifies. */
#ifndef OSIER_CORE_LEDGER_CHAIN_H
#define OSIER_CORE_LEDGER_CHAIN_H

#include "core/ledger/event.h"

/* Fills body_hash and digest. previous: digest of seq - 1, or NULL for the first (taken as zeros). */
void chain_seal(Event *event, const uint8_t *previous);

/* Is the event whole and the right successor? Checks body_hash against the body where there is one, and digest. */
bool chain_holds(const Event *event, const uint8_t *previous);

#endif
