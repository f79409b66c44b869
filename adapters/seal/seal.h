/* SPDX-License-Identifier: Apache-2.0 */
/* Files sealed to a key with libsodium: whoever holds the public key can seal, only the secret key opens. A sealed file is
 * the line "osier sealed 1", a stream key in a sealed box (X25519, XSalsa20-Poly1305), then the content as a secret stream
 * (XChaCha20-Poly1305) in chunks of 64 kB, the last one marked: a change, a cut or an addition is noticed. */
#ifndef OSIER_ADAPTERS_SEAL_SEAL_H
#define OSIER_ADAPTERS_SEAL_SEAL_H

#include <stdbool.h>

/* A new pair, as text: "osier-seal-" and 43 letters, digits, - and _ for the public key, "osier-open-" for the secret one.
 * Both the caller's to g_free. */
void seal_keys(char **public_key, char **secret_key);

/* Is it the text of a public key? */
bool seal_is_key(const char *text);

/* Seals a file into a new one, mode 0600, synced. Both give NULL, or one line on what is wrong (g_free): a file that is there
 * already, a key that is none, a file that cannot be read or written; for opening also another key, a file that is not
 * sealed, or one that is changed or cut. Nothing is left of a new file that is not whole. */
char *seal_file(const char *from, const char *to, const char *public_key);
char *seal_open_file(const char *from, const char *to, const char *secret_key);

/* A keyed hash (BLAKE2b, 128 bits) of a text as 32 hex digits (g_free); key: 64 hex digits. */
char *seal_keyed_hash(const char *key, const char *text);

/* Does the file begin as a sealed one? */
bool seal_is_sealed(const char *path);

#endif
