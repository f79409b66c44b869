/* SPDX-License-Identifier: Apache-2.0 */
/* Passwords are hashed off the loop, two at a time, so that neither the loop nor the memory is at the
 * mercy of who knocks. */
#ifndef OSIER_DAEMON_PAGE_HASHER_H
#define OSIER_DAEMON_PAGE_HASHER_H

#include <stdbool.h>
#include <uv.h>

typedef struct Hasher Hasher;

/* good: the password is that of the hash, or could be hashed; hash (g_free) only from hasher_make. */
typedef void HasherDone(bool good, char *hash, void *context);

Hasher *hasher_new(uv_loop_t *loop);

/* What is in hand ends with good false; what waits too. Frees itself once the last has ended. */
void hasher_close(Hasher *hasher);

/* Is the password that of the hash (NULL: no, after as much work)? Takes the password over and forgets
 * it. False, with done not called, where too many wait. */
bool hasher_check(Hasher *hasher, const char *hash, char *password, HasherDone *done,
                  void *context);

/* Makes a hash; else as above. */
bool hasher_make(Hasher *hasher, char *password, HasherDone *done, void *context);

#endif
