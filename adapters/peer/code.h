/* SPDX-License-Identifier: Apache-2.0 */
/* The code that pairs two replicas: read out or typed once. It holds the beginning of the listener's key, so that nobody can
 * stand between, and a token, so that nobody else can use it. */
#ifndef OSIER_ADAPTERS_PEER_CODE_H
#define OSIER_ADAPTERS_PEER_CODE_H

#include <stdbool.h>
#include <stdint.h>

#include "adapters/peer/identity.h"

#define TOKEN_LETTERS 8

typedef struct {
    uint8_t key[8];                /* the first 60 bits of the fingerprint, the last four 0 */
    char token[TOKEN_LETTERS + 1]; /* 40 bits */
} PairingCode;

/* "ABCDE-FGHIJ-KLMNO-PQRST" (RFC 4648 section 6 without padding; g_free): 60 bits of the fingerprint, then the lowest 40 of
 * token. */
char *code_make(const uint8_t fingerprint[FINGERPRINT_BYTES], uint64_t token);

/* Reads one as people type it: small letters, spaces, dashes, marks that cannot be seen, and 0, 1 and 8 for O, I and B. False
 * where it is none. */
bool code_read(const char *text, PairingCode *code);

/* Is it the key that the code speaks of? */
bool code_fits(const PairingCode *code, const uint8_t fingerprint[FINGERPRINT_BYTES]);

#endif
