/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/manager.h"

#include <glib.h>
#include <systemd/sd-daemon.h>

struct Manager {
    uv_timer_t timer;
};

static void still_here(uv_timer_t *timer)
{
    (void)timer;
    sd_notify(0, "WATCHDOG=1");
}

Manager *manager_new(uv_loop_t *loop)
{
    Manager *manager = g_new0(Manager, 1);

    uv_timer_init(loop, &manager->timer);
    uv_unref((uv_handle_t *)&manager->timer);
    return manager;
}

static void show(Manager *manager, const char *status)
{
    uint64_t patience_us = 0;

    sd_notifyf(0, "READY=1\nSTATUS=%s", status);
    if (sd_watchdog_enabled(0, &patience_us) <= 0) return;
    uint64_t every_ms = patience_us / 2000;
    uv_timer_start(&manager->timer, still_here, every_ms, every_ms);
}

void manager_ready(Manager *manager, const char *clinic)
{
    show(manager, clinic);
}

void manager_stands_by(Manager *manager, const char *clinic)
{
    g_autofree char *status = g_strdup_printf("stands by for %s", clinic);

    show(manager, status);
}

void manager_stopping(Manager *manager)
{
    (void)manager;
    sd_notify(0, "STOPPING=1\nSTATUS=finishes what is in flight");
}

static void gone(uv_handle_t *handle)
{
    g_free(handle); /* the timer is the manager's first field */
}

void manager_free(Manager *manager)
{
    if (manager != NULL) uv_close((uv_handle_t *)&manager->timer, gone);
}
