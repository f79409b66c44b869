/* SPDX-License-Identifier: Apache-2.0 */
/* Where osierd hears what gateways post to it. */
#ifndef OSIER_DAEMON_HOOKS_H
#define OSIER_DAEMON_HOOKS_H

#include <uv.h>

#include "adapters/serve/serve.h"
#include "core/clinic/clinic.h"
#include "daemon/intake/intake.h"

typedef struct {
    Serve *serve; /* NULL: nothing is heard */
    char *at;     /* where, or NULL */
} Hooks;

/* Hears webhooks where the settings say, or nowhere where no gateway sends any. May be called again with other settings. False,
 * with the old place kept, where that cannot be; why (g_free) says so. */
bool hooks_listen(Hooks *hooks, uv_loop_t *loop, const Clinic *clinic, Intake *intake, char **why);

/* How many requests are being answered. */
int hooks_busy(const Hooks *hooks);

void hooks_close(Hooks *hooks);

#endif
