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
    GPtrArray *receipts;  /* of Poll */
    Hooks *hooks;
    bool running;
    bool closed;
    IntakeWatch watch;
};

typedef enum { ASKS_MESSAGES, ASKS_MAIL, ASKS_RECEIPTS } Asks;

static const GPtrArray *those_of(const Intake *intake, Asks asks)
{
    return asks == ASKS_MESSAGES ? intake->polls
           : asks == ASKS_MAIL   ? intake->mailboxes
                                 : intake->receipts;
}

/* Everything that asks: the n-th, or NULL behind the last. */
static Rounds *rounds_at(const Intake *intake, guint n)
{
    for (Asks asks = ASKS_MESSAGES; asks <= ASKS_RECEIPTS; asks++) {
        const GPtrArray *those = those_of(intake, asks);
        if (n < those->len)
            return asks == ASKS_MAIL ? mailbox_rounds(those->pdata[n])
                                     : poll_rounds(those->pdata[n]);
        n -= those->len;
    }
    return NULL;
}

static Rounds *rounds_of(const Intake *intake, const char *gateway, Asks asks)
{
    guint from = 0;

    for (Asks before = ASKS_MESSAGES; before < asks; before++)
        from += those_of(intake, before)->len;
    for (guint i = from; i < from + those_of(intake, asks)->len; i++)
        if (strcmp(rounds_at(intake, i)->name, gateway) == 0) return rounds_at(intake, i);
    return NULL;
}

void intake_watch(Intake *intake, const IntakeWatch *watch)
{
    intake->watch = *watch;
}

void intake_back(Intake *intake)
{
    Rounds *rounds;

    for (guint i = 0; intake->running && (rounds = rounds_at(intake, i)) != NULL; i++)
        rounds_back(rounds);
}

static void add(Intake *intake, const char *gateway, Asks asks)
{
    if (rounds_of(intake, gateway, asks) == NULL && asks == ASKS_MAIL)
        g_ptr_array_add(intake->mailboxes, mailbox_new(intake->desk, intake->net, &intake->watch,
                                                       intake->loop, gateway));
    else if (rounds_of(intake, gateway, asks) == NULL)
        g_ptr_array_add(asks == ASKS_MESSAGES ? intake->polls : intake->receipts,
                        poll_new(intake->desk, intake->net, &intake->watch, gateway,
                                 asks == ASKS_MESSAGES ? POLL_MESSAGES : POLL_RECEIPTS));
    if (intake->running) rounds_start(rounds_of(intake, gateway, asks));
}

void intake_reload(Intake *intake)
{
    const Clinic *clinic = settings_clinic(desk_settings(intake->desk));

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->poll != NULL) add(intake, gateway->name, ASKS_MESSAGES);
        if (gateway->imap != NULL) add(intake, gateway->name, ASKS_MAIL);
        if (gateway->receipts != NULL && gateway->receipts->poll != NULL)
            add(intake, gateway->name, ASKS_RECEIPTS);
    }
}

Intake *intake_new(Desk *desk, Net *net, uv_loop_t *loop)
{
    Intake *intake = g_new0(Intake, 1);

    intake->desk = desk;
    intake->net = net;
    intake->loop = loop;
    intake->polls = g_ptr_array_new_with_free_func((GDestroyNotify)poll_free);
    intake->receipts = g_ptr_array_new_with_free_func((GDestroyNotify)poll_free);
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

void intake_close(Intake *intake)
{
    intake->closed = true;
    intake_stop(intake);
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
    Intake *intake = context;

    if (intake->closed)
        serve_answer(request, 503, NULL, NULL, NULL);
    else
        hooks_hear(intake->hooks, request);
}

void intake_free(Intake *intake)
{
    if (intake == NULL) return;
    g_ptr_array_unref(intake->polls);
    g_ptr_array_unref(intake->mailboxes);
    g_ptr_array_unref(intake->receipts);
    hooks_free(intake->hooks);
    g_free(intake);
}

/* What brings clients' words; receipts are missed by nobody for a while. */
json_t *intake_json(const Intake *intake)
{
    json_t *polls = json_array();

    for (guint i = 0; i < intake->polls->len + intake->mailboxes->len; i++)
        json_array_append_new(polls, rounds_json(rounds_at(intake, i)));
    return polls;
}

json_t *intake_hooks_json(const Intake *intake)
{
    return hooks_json(intake->hooks);
}
