/* SPDX-License-Identifier: Apache-2.0 */
/* Passwords by argon2id, and tokens that nobody guesses: libsodium. The only randomness that is never
 * drawn from a seed. */
#ifndef OSIER_ADAPTERS_PAGE_PASSWORD_H
#define OSIER_ADAPTERS_PAGE_PASSWORD_H

#include <stdbool.h>
#include <stddef.h>

#define PASSWORD_CHARS_MIN 12
#define PASSWORD_BYTES_MAX 256

/* Before anything else here; may be called again. */
void password_start(void);

/* The hash of a password as a text that names its own cost (g_free). It takes some 64 MiB and a tenth
 * of a second: never on the loop. NULL where there is no memory. */
char *password_hash(const char *password);

/* Is it the password of that hash? hash NULL: false, after as much work. As slow as password_hash. */
bool password_matches(const char *hash, const char *password);

/* Overwrites and frees a text that held a password. NULL is fine. */
void password_forget(char *password);

/* 128 bits from the system as a text that fits into a link or a cookie (g_free). */
char *token_new(void);

/* A hash under which a token may be kept (g_free): from it nobody gets the token back. */
char *token_hash(const char *token);

/* Compares without telling by time how much is the same; NULL is the same as nothing. */
bool token_same(const char *one, const char *other);

#endif
