/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/intake.h"

#include <string.h>

#include "daemon/intake/hook.h"
#include "daemon/intake/mailbox.h"
#include "daemon/intake/poll.h"
#include "daemon/intake/take_in.h"

struct Intake {
    Desk *desk;
    Net *net;
    uv_loop_t *loop;
    GPtrArray *polls;     /* of Poll */
    GPtrArray *mailboxes; /* of Mailbox */
    Hooks *hooks;
    bool running;
    IntakeHeard *heard;
    void *heard_context;
};

/* Everything that asks: the n-th, or NULL behind the last. */
static Rounds *rounds_at(const Intake *intake, guint n)
{
    if (n < intake->polls->len) return poll_rounds(intake->polls->pdata[n]);
    n -= intake->polls->len;
    return n < intake->mailboxes->len ? mailbox_rounds(intake->mailboxes->pdata[n]) : NULL;
}

static Rounds *rounds_of(const Intake *intake, const char *gateway, bool mail)
{
    guint from = mail ? intake->polls->len : 0;
    guint to = intake->polls->len + (mail ? intake->mailboxes->len : 0);

    for (guint i = from; i < to; i++)
        if (strcmp(rounds_at(intake, i)->name, gateway) == 0) return rounds_at(intake, i);
    return NULL;
}

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
    Rounds *rounds;

    for (guint i = 0; intake->running && (rounds = rounds_at(intake, i)) != NULL; i++)
        rounds_start(rounds);
}

static void add(Intake *intake, const char *gateway, bool mail)
{
    if (rounds_of(intake, gateway, mail) != NULL) return;
    if (mail)
        g_ptr_array_add(intake->mailboxes,
                        mailbox_new(intake->desk, intake->net, intake->loop, gateway));
    else
        g_ptr_array_add(intake->polls,
                        poll_new(intake->desk, intake->net, gateway, on_heard, intake));
}

void intake_reload(Intake *intake)
{
    const Clinic *clinic = settings_clinic(desk_settings(intake->desk));

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->poll == NULL && gateway->imap == NULL) continue;
        bool mail = gateway->imap != NULL;
        add(intake, gateway->name, mail);
        if (intake->running) rounds_start(rounds_of(intake, gateway->name, mail));
    }
}

Intake *intake_new(Desk *desk, Net *net, uv_loop_t *loop)
{
    Intake *intake = g_new0(Intake, 1);

    intake->desk = desk;
    intake->net = net;
    intake->loop = loop;
    intake->polls = g_ptr_array_new_with_free_func((GDestroyNotify)poll_free);
    intake->mailboxes = g_ptr_array_new_with_free_func((GDestroyNotify)mailbox_free);
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
    Rounds *rounds;

    intake->running = false;
    for (guint i = 0; (rounds = rounds_at(intake, i)) != NULL; i++)
        rounds_stop(rounds);
}

int intake_busy(const Intake *intake)
{
    const Rounds *rounds;
    int busy = 0;

    for (guint i = 0; (rounds = rounds_at(intake, i)) != NULL; i++)
        busy += rounds->busy;
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
    g_ptr_array_unref(intake->mailboxes);
    hooks_free(intake->hooks);
    g_free(intake);
}

json_t *intake_json(const Intake *intake)
{
    json_t *polls = json_array();
    const Rounds *rounds;

    for (guint i = 0; (rounds = rounds_at(intake, i)) != NULL; i++)
        json_array_append_new(polls, rounds_json(rounds));
    return polls;
}
