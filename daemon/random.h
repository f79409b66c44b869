/* SPDX-License-Identifier: Apache-2.0 */
/* The random port. Live, the system's; under a made-up clock a keyed hash of seed, purpose and
 * number, so that the same seed gives the same results. May be used from any thread. */
#ifndef OSIER_DAEMON_RANDOM_H
#define OSIER_DAEMON_RANDOM_H

#include <glib.h>
#include <stdint.h>

typedef struct Random Random;

Random *random_live_new(void);
Random *random_seeded_new(uint64_t seed);
void random_free(Random *random);

/* Seeded: what is drawn from now on is drawn again after random_draw_again, for who does the same once more and wants to compare. */
void random_keep(Random *random);
void random_draw_again(Random *random);

/* Fills out with bytes; purpose names what for, and the seeded port counts each purpose by itself.
 */
void random_bytes(Random *random, const char *purpose, void *out, size_t length);
uint64_t random_number(Random *random, const char *purpose);

/* 0 to below (at least 1). */
uint64_t random_below(Random *random, const char *purpose, uint64_t below);

#endif
