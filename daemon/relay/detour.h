/* SPDX-License-Identifier: Apache-2.0 */
/* Where a channel has had no gateway that works for some minutes, its messages go by the client's other channel, if one
 * was consented to and works. */
#ifndef OSIER_DAEMON_RELAY_DETOUR_H
#define OSIER_DAEMON_RELAY_DETOUR_H

#include "core/clinic/route.h"
#include "daemon/desk/desk.h"

typedef struct Detour Detour;

/* up says whether a gateway works. */
Detour *detour_new(Desk *desk, RouteUp *up, void *context);
void detour_free(Detour *detour);

/* Looks at a channel for which something is due; *again_ms is lowered to when to look again. */
void detour_look(Detour *detour, Channel channel, int64_t now_ms, int64_t *again_ms);

#endif
