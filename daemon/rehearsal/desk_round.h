/* SPDX-License-Identifier: Apache-2.0 */
/* What the clinic's desk does twice on a working day: rings who has only a landline, settles what
 * osier left to a person, and looks through what it wants to have seen. */
#ifndef OSIER_DAEMON_REHEARSAL_DESK_ROUND_H
#define OSIER_DAEMON_REHEARSAL_DESK_ROUND_H

#include "daemon/rehearsal/world.h"

void desk_round(World *world);

#endif
