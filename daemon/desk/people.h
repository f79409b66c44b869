/* SPDX-License-Identifier: Apache-2.0 */
/* Clients as they were last read, for the jobs that come soon after and need them again: who is asked is claimed a moment
 * later. Nothing is used once anything that tells of people may have changed in the store. Store thread. */
#ifndef OSIER_DAEMON_DESK_PEOPLE_H
#define OSIER_DAEMON_DESK_PEOPLE_H

#include <glib.h>

struct Person;
typedef struct People People;

People *people_new(void);
void people_free(People *people);

/* What a job begins with: the number of its settings, from which what a client leaves open is filled in. */
void people_begin(People *people, int settings_number);

/* The client as of that count of changes (tx_people_moves), held for the caller (person_free), or NULL. */
struct Person *people_find(People *people, int64_t moves, const char *client);

/* Keeps a client that was read just now. */
void people_keep(People *people, int64_t moves, struct Person *person);

#endif
