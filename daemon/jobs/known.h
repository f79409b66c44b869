/* SPDX-License-Identifier: Apache-2.0 */
/* What is known of a client already when a plan is set: where it pulls and how high the leg goes. Store thread. */
#ifndef OSIER_DAEMON_JOBS_KNOWN_H
#define OSIER_DAEMON_JOBS_KNOWN_H

#include "core/practice/start.h"
#include "daemon/desk/person.h"

/* An answer or a reading older than this stands for nothing any more: five weeks, as long as a measure counts for moving
 * on (common practice). */
#define KNOWN_DAYS 35

/* Fills in what ask leaves open: felt by the latest letter of the weekly question, the angle by the latest leg raise that a
 * clinician took, of the lower side of the plan ("left", "right", else both). Texts are lent by the settings. The reasons
 * that say so, a new JSON list, empty where nothing was filled in. */
json_t *known_start(Job *job, const Person *person, const char *side, StartAsk *ask);

#endif
