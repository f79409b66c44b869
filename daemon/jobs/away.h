/* SPDX-License-Identifier: Apache-2.0 */
/* Times in which the clinic was not heard: osierd did not run, the line was down, a gateway did not answer. Store thread. */
#ifndef OSIER_DAEMON_JOBS_AWAY_H
#define OSIER_DAEMON_JOBS_AWAY_H

#include "daemon/desk/desk.h"

/* Writes down what of a time is not known yet, in pieces of at least least_ms. Nothing where this replica does not listen. */
void away_note(Job *job, int64_t from_ms, int64_t to_ms, int64_t least_ms, const char *why);

#endif
