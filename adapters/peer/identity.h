/* SPDX-License-Identifier: Apache-2.0 */
/* Who a replica is to the others: a key that they know it by, in a certificate that nobody else signed. GnuTLS. */
#ifndef OSIER_ADAPTERS_PEER_IDENTITY_H
#define OSIER_ADAPTERS_PEER_IDENTITY_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

#define FINGERPRINT_BYTES 32

/* A new key (ECDSA on P-256) and a certificate for it that says nothing about the clinic and never ends, both PEM, the caller's
 * to g_free. False and *why (g_free) where GnuTLS cannot. */
bool identity_make(char **certificate, char **key, char **why);

/* SHA-256 of the public key in a certificate (PEM): of its SubjectPublicKeyInfo, as RFC 7469 section 2.4 has it. False where
 * it is none. */
bool identity_fingerprint(const char *certificate, uint8_t fingerprint[FINGERPRINT_BYTES]);

/* "sha256//" and the fingerprint in base64 (g_free), or NULL. */
char *identity_pin(const char *certificate);

/* A signature by a key (PEM) under a SHA-256 digest, and whether one holds by a certificate's key. NULL, or false, where it
 * cannot be made or does not hold. */
GBytes *identity_sign(const char *key, const uint8_t digest[32]);
bool identity_signed(const char *certificate, const uint8_t digest[32], GBytes *signature);

#endif
