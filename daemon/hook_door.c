/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/hook_door.h"

#include "adapters/serve/serve_mhd.h"

#define HOOK_BODY_MAX (64 * 1024)

/* Where they are to be heard, or NULL where no gateway sends any. */
static const char *wanted_by(const Clinic *clinic)
{
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->webhook != NULL ||
            (gateway->receipts != NULL && gateway->receipts->path != NULL))
            return clinic->hooks_listen;
    }
    return NULL;
}

bool hook_door_listen(HookDoor *door, uv_loop_t *loop, const Clinic *clinic, Intake *intake,
                      char **why)
{
    const char *wanted = wanted_by(clinic);
    const ServeLimits limits = {.body_max = HOOK_BODY_MAX,
                                .connections_max = 512,
                                .connections_per_address_max = 256,
                                .idle_timeout_s = 20};
    Serve *fresh = NULL;

    if (g_strcmp0(wanted, door->at) == 0) return true;
    if (wanted != NULL) {
        fresh = serve_tcp_new(loop, wanted, &limits, intake_hook, intake, why);
        if (fresh == NULL) return false;
    }
    hook_door_close(door);
    *door = (HookDoor){.serve = fresh, .at = g_strdup(wanted)};
    return true;
}

int hook_door_busy(const HookDoor *door)
{
    return door->serve != NULL ? door->serve->open_requests(door->serve) : 0;
}

void hook_door_close(HookDoor *door)
{
    if (door->serve != NULL) door->serve->close(door->serve);
    g_clear_pointer(&door->at, g_free);
    door->serve = NULL;
}
