/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/intake.h"

#include <string.h>

#include "daemon/intake/hook.h"
#include "daemon/intake/poll.h"
#include "daemon/intake/take_in.h"

struct Intake {
    Desk *desk;
    Net *net;
    GPtrArray *polls; /* of Poll */
    Hooks *hooks;
    bool running;
    IntakeHeard *heard;
    void *heard_context;
};

static void on_heard(bool unreachable, void *context)
{
    Intake *intake = context;

    if (intake->heard != NULL) intake->heard(unreachable, intake->heard_context);
}

void intake_watch(Intake *intake, IntakeHeard *heard, void *context)
{
    intake->heard = heard;
    intake->heard_context = context;
}

void intake_back(Intake *intake)
{
    for (guint i = 0; intake->running && i < intake->polls->len; i++)
        poll_start(intake->polls->pdata[i]);
}

static Poll *poll_of(Intake *intake, const char *name)
{
    for (guint i = 0; i < intake->polls->len; i++)
        if (strcmp(poll_name(intake->polls->pdata[i]), name) == 0) return intake->polls->pdata[i];
    return NULL;
}

void intake_reload(Intake *intake)
{
    const Clinic *clinic = settings_clinic(desk_settings(intake->desk));

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->poll == NULL) continue;
        Poll *poll = poll_of(intake, gateway->name);
        if (poll == NULL) {
            poll = poll_new(intake->desk, intake->net, gateway->name, on_heard, intake);
            g_ptr_array_add(intake->polls, poll);
        }
        if (intake->running) poll_start(poll);
    }
}

Intake *intake_new(Desk *desk, Net *net)
{
    Intake *intake = g_new0(Intake, 1);

    intake->desk = desk;
    intake->net = net;
    intake->polls = g_ptr_array_new_with_free_func((GDestroyNotify)poll_free);
    intake->hooks = hooks_new(desk);
    return intake;
}

void intake_start(Intake *intake)
{
    intake->running = true;
    take_in_read(intake->desk);
    intake_reload(intake);
}

void intake_again(Intake *intake)
{
    if (intake->running) take_in_read(intake->desk);
}

void intake_stop(Intake *intake)
{
    intake->running = false;
    for (guint i = 0; i < intake->polls->len; i++)
        poll_stop(intake->polls->pdata[i]);
}

int intake_busy(const Intake *intake)
{
    int busy = 0;

    for (guint i = 0; i < intake->polls->len; i++)
        busy += poll_busy(intake->polls->pdata[i]);
    return busy;
}

void intake_hook(ServeRequest *request, void *context)
{
    hooks_hear(((Intake *)context)->hooks, request);
}

void intake_free(Intake *intake)
{
    if (intake == NULL) return;
    g_ptr_array_unref(intake->polls);
    hooks_free(intake->hooks);
    g_free(intake);
}

json_t *intake_json(const Intake *intake)
{
    json_t *polls = json_array();

    for (guint i = 0; i < intake->polls->len; i++)
        json_array_append_new(polls, poll_json(intake->polls->pdata[i]));
    return polls;
}
