/* SPDX-License-Identifier: Apache-2.0 */
/* What goes wrong in a rehearsal, and what gateways do of themselves: a bad hour of the gateway, a
 * number that nobody has, a stranger's text, receipts. Where and when is drawn from the seed. */
#ifndef OSIER_DAEMON_REHEARSAL_MISHAPS_H
#define OSIER_DAEMON_REHEARSAL_MISHAPS_H

#include "daemon/rehearsal/world.h"

/* Enters the mishaps up to end into the agenda. */
void mishaps_plan(World *world, int64_t end_ms);

/* A message was taken: where the clinic has receipts mapped, one comes a little later. */
void mishaps_receipt(World *world, const char *gateway, const char *gateway_id);

#endif
