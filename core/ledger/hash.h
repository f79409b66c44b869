/* SPDX-License-Identifier: Apache-2.0 */
/* SHA-256 (FIPS 180-4) over bytes that come piece by piece, and over the pieces that chains and ids are made of: each with
 * its length before it, so that no two lists of pieces read alike. */
#ifndef OSIER_CORE_LEDGER_HASH_H
#define OSIER_CORE_LEDGER_HASH_H

#include <nettle/sha2.h>
#include <stddef.h>
#include <stdint.h>

#define HASH_BYTES 32

typedef struct {
    struct sha256_ctx state;
} Hash;

void hash_begin(Hash *hash);

/* Numbers go in as eight bytes, the most significant first. */
void hash_number(Hash *hash, uint64_t number);
void hash_piece(Hash *hash, const void *data, size_t length);
void hash_text(Hash *hash, const char *text);

/* Ends it; the hash is to be begun anew after. */
void hash_end(Hash *hash, uint8_t digest[HASH_BYTES]);

#endif
