/* SPDX-License-Identifier: Apache-2.0 */
/* Enters the clients of a rehearsal as a clinic would: client with consent, screen, plan. */
#ifndef OSIER_DAEMON_REHEARSAL_ENROL_H
#define OSIER_DAEMON_REHEARSAL_ENROL_H

#include "daemon/rehearsal/world.h"

/* Enters everybody. False where a call failed; the link says why. */
bool enrol_all(World *world);

#endif
