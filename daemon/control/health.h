/* SPDX-License-Identifier: Apache-2.0 */
/* What somebody at the clinic should look at, in plain sentences, from the status. */
#ifndef OSIER_DAEMON_CONTROL_HEALTH_H
#define OSIER_DAEMON_CONTROL_HEALTH_H

#include <jansson.h>

#include "core/clinic/clinic.h"

/* Adds to a whole status: "local" (the clinic's time, as people write it), "zones" ({"version", "released", "old"} of the
 * zone database; version and released null where it does not tell), "state" and "notes".
 *
 * A note is {"grave", "say", "do"}: one sentence on what is so, one on what to do about it. state is "well" without notes,
 * "look" where none is grave, "ill" where one is: then something is not sent, not heard or not kept, or somebody waits for
 * a clinician now. */
void health_add(json_t *status, const Clinic *clinic);

/* For a probe: {"state", "now", "notes": how many, "grave": how many}. No names, no numbers of people (new reference). */
json_t *health_brief(const json_t *status);

#endif
