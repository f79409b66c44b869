/* SPDX-License-Identifier: Apache-2.0 */
/* Slows down who guesses passwords: after three wrong ones for a name each further try waits longer,
 * a quarter of an hour at most. Time is handed in, in milliseconds of a clock that only goes forward. */
#ifndef OSIER_DAEMON_PAGE_THROTTLE_H
#define OSIER_DAEMON_PAGE_THROTTLE_H

#include <stdint.h>

typedef struct Throttle Throttle;

Throttle *throttle_new(void);
void throttle_free(Throttle *throttle);

/* How long the next try for that name has to wait; 0: it may be made. */
int64_t throttle_wait_ms(const Throttle *throttle, const char *name, int64_t now_ms);

/* A try begins. It counts as wrong until throttle_good says otherwise, so that many at once are not
 * many for the price of one. */
void throttle_try(Throttle *throttle, const char *name, int64_t now_ms);
void throttle_good(Throttle *throttle, const char *name);

#endif
