/* SPDX-License-Identifier: Apache-2.0 */
/* Calls a clinician where a measure shows a loss that is a sign, as of standing height. Store thread. */
#ifndef OSIER_DAEMON_JOBS_LOSS_H
#define OSIER_DAEMON_JOBS_LOSS_H

#include "core/practice/programme.h"
#include "daemon/desk/person.h"

/* The kind of the alert. */
#define LOSS_MATTER "height-loss"

/* Looks at the readings of one measure (rows, oldest first, all of that movement) and opens an alert where the last has lost what
 * is a sign (class today, with a hold) or more than the error of measuring (class digest). What an alert that is closed was about
 * is told from that reading on. The alert's id (g_free), or NULL. */
char *loss_heed(Job *job, const Person *person, const Measure *measure, const GPtrArray *rows);

#endif
