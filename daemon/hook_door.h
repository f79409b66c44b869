/* SPDX-License-Identifier: Apache-2.0 */
/* Where osierd hears what gateways post to it. */
#ifndef OSIER_DAEMON_HOOK_DOOR_H
#define OSIER_DAEMON_HOOK_DOOR_H

#include <uv.h>

#include "adapters/serve/serve.h"
#include "core/clinic/clinic.h"
#include "daemon/intake/intake.h"

typedef struct {
    Serve *serve; /* NULL: nothing is heard */
    char *at;     /* where, or NULL */
} HookDoor;

/* Hears webhooks where the settings say, or nowhere where no gateway sends any. May be called again with other settings. False,
 * with the old place kept, where that cannot be; why (g_free) says so. */
bool hook_door_listen(HookDoor *door, uv_loop_t *loop, const Clinic *clinic, Intake *intake,
                      char **why);

/* How many requests are being answered. */
int hook_door_busy(const HookDoor *door);

void hook_door_close(HookDoor *door);

#endif
