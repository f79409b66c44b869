/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/hooks.h"

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

bool hooks_listen(Hooks *hooks, uv_loop_t *loop, const Clinic *clinic, Intake *intake, char **why)
{
    const char *wanted = wanted_by(clinic);
    const ServeLimits limits = {.body_max = HOOK_BODY_MAX,
                                .connections_max = 512,
                                .connections_per_address_max = 256,
                                .idle_timeout_s = 20};
    Serve *fresh = NULL;

    if (g_strcmp0(wanted, hooks->at) == 0) return true;
    if (wanted != NULL) {
        fresh = serve_tcp_new(loop, wanted, &limits, intake_hook, intake, why);
        if (fresh == NULL) return false;
    }
    hooks_close(hooks);
    *hooks = (Hooks){.serve = fresh, .at = g_strdup(wanted)};
    return true;
}

int hooks_busy(const Hooks *hooks)
{
    return hooks->serve != NULL ? hooks->serve->open_requests(hooks->serve) : 0;
}

void hooks_close(Hooks *hooks)
{
    if (hooks->serve != NULL) hooks->serve->close(hooks->serve);
    g_clear_pointer(&hooks->at, g_free);
    hooks->serve = NULL;
}
