/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/hook.h"

#include <string.h>
#include <time.h>

#include "adapters/sms/sms_gateway.h"
#include "daemon/intake/hook_watch.h"
#include "daemon/intake/take_in.h"
#include "daemon/jobs/settle.h"

/* More than one store takes in: at that rate a gateway has gone mad. */
#define HOOKS_A_SECOND 10000

struct Hooks {
    Desk *desk;
    HookWatch *watch;
    int64_t second;
    int heard; /* in that second */
};

Hooks *hooks_new(Desk *desk)
{
    Hooks *hooks = g_new0(Hooks, 1);

    hooks->desk = desk;
    hooks->watch = hook_watch_new(desk);
    return hooks;
}

void hooks_free(Hooks *hooks)
{
    hook_watch_free(hooks->watch);
    g_free(hooks);
}

json_t *hooks_json(const Hooks *hooks)
{
    return hook_watch_json(hooks->watch);
}

typedef struct {
    ServeRequest *request;
    int status; /* to answer with once stored */
} Hook;

static const char *header_of(const char *name, void *request)
{
    return serve_header(request, name);
}

static void refuse(ServeRequest *request, int status, const char *why)
{
    json_t *body = json_pack("{s:s}", "error", why);

    serve_answer_json(request, status, json_dumps(body, JSON_COMPACT));
    json_decref(body);
}

static void stored(StoreStatus status, int fresh, void *context)
{
    Hook *hook = context;

    (void)fresh;
    if (status == STORE_OK)
        serve_answer_json(hook->request, hook->status, g_strdup("{}"));
    else
        refuse(hook->request, 503, "cannot store it now; send it again later");
    g_free(hook);
}

/* Signatures are judged by the real clock, also where the clinic's time is made up. */
static bool is_signed(Hooks *hooks, ServeRequest *request, const Signature *signature)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);

    return webhook_signed(signature, header_of, request, body, length, (int64_t)time(NULL),
                          settings_secret, desk_settings(hooks->desk));
}

static bool is_believed(Hooks *hooks, ServeRequest *request, const Gateway *gateway,
                        const Signature *signature)
{
    bool holds = is_signed(hooks, request, signature);

    (holds ? hook_watch_held : hook_watch_refused)(hooks->watch, gateway->name);
    return holds;
}

/* A message without an id goes by that of the call, which by Standard Webhooks is the same when the call is made again: so nobody
 * can play it a second time within the five minutes either. The signature covers it. */
static void name_by_call(Incoming *incoming, const Signature *signature, ServeRequest *request)
{
    const char *call = serve_header(request, "webhook-id");

    if (incoming->id != NULL || signature->scheme != SIGNATURE_STANDARD || call == NULL) return;
    incoming->id = g_strconcat("call ", call, NULL);
}

static void hear_message(Hooks *hooks, ServeRequest *request, const Gateway *gateway)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);
    Incoming *incoming =
        webhook_read(gateway->webhook, serve_header(request, "Content-Type"), body, length);
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    Hook *hook = g_new0(Hook, 1);

    name_by_call(incoming, &gateway->webhook->signature, request);
    *hook = (Hook){.request = request, .status = incoming->problem != NULL ? 202 : 200};
    g_ptr_array_add(items, incoming);
    take_in(hooks->desk,
            &(Taking){.gateway = gateway->name, .channel = CHANNEL_SMS, .items = items}, stored,
            hook);
}

typedef struct {
    Hook hook;
    char *gateway;
    Receipt *receipt;
} ReceiptErrand;

static bool receipt_job(Job *job, void *context)
{
    ReceiptErrand *errand = context;

    settle_receipt(job, errand->gateway, errand->receipt);
    return true;
}

static void receipt_done(StoreStatus status, void *context)
{
    ReceiptErrand *errand = context;
    Hook *hook = g_new0(Hook, 1);

    *hook = errand->hook;
    g_free(errand->gateway);
    receipt_free(errand->receipt);
    g_free(errand);
    stored(status, 0, hook);
}

static void hear_receipt(Hooks *hooks, ServeRequest *request, const Gateway *gateway)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);
    Receipt *receipt =
        receipt_read(gateway->receipts, serve_header(request, "Content-Type"), body, length);

    if (receipt == NULL) {
        log_line(desk_log(hooks->desk), LOG_WARNINGS, "receipt.unreadable", "gateway",
                 gateway->name, "why", "no id, or no status, where the settings look for it", NULL);
        hook_watch_odd(hooks->watch, gateway->name);
        serve_answer_json(request, 202, g_strdup("{}"));
        return;
    }
    ReceiptErrand *errand = g_new0(ReceiptErrand, 1);
    *errand = (ReceiptErrand){.hook = {.request = request, .status = 200},
                              .gateway = g_strdup(gateway->name),
                              .receipt = receipt};
    desk_submit(hooks->desk, receipt_job, receipt_done, errand);
}

/* By the clinic's clock: where time is stepped, a day's webhooks may come within a second of the machine's. */
static bool too_many(Hooks *hooks)
{
    int64_t second = clock_now(desk_clock(hooks->desk)) / 1000;

    if (second != hooks->second) {
        hooks->second = second;
        hooks->heard = 0;
    }
    return ++hooks->heard > HOOKS_A_SECOND;
}

typedef void Hear(Hooks *hooks, ServeRequest *request, const Gateway *gateway);

/* Turned away, and told: a signature that does not hold is a wrong secret or a stranger. */
static void turn_away(Hooks *hooks, ServeRequest *request, const Gateway *gateway, int status,
                      const char *why)
{
    log_line(desk_log(hooks->desk), LOG_WARNINGS, "hook.refused", "gateway", gateway->name, "why",
             why, NULL);
    refuse(request, status, why);
}

/* Which gateway's path it is, and what is heard there. */
static Hear *find_path(Hooks *hooks, const char *path, const Gateway **gateway,
                       const Signature **signature)
{
    const Clinic *clinic = settings_clinic(desk_settings(hooks->desk));

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *candidate = clinic->gateways->pdata[i];
        *gateway = candidate;
        if (candidate->webhook != NULL && strcmp(candidate->webhook->path, path) == 0) {
            *signature = &candidate->webhook->signature;
            return hear_message;
        }
        if (candidate->receipts != NULL && g_strcmp0(candidate->receipts->path, path) == 0) {
            *signature = &candidate->receipts->signature;
            return hear_receipt;
        }
    }
    return NULL;
}

void hooks_hear(Hooks *hooks, ServeRequest *request)
{
    const Gateway *gateway = NULL;
    const Signature *signature = NULL;
    Hear *hear = find_path(hooks, serve_path(request), &gateway, &signature);

    if (hear == NULL)
        refuse(request, 404, "nothing is heard at this path");
    else if (strcmp(serve_method(request), "POST") != 0)
        refuse(request, 405, "only POST is heard here");
    else if (!is_believed(hooks, request, gateway, signature))
        turn_away(hooks, request, gateway, 401, "the signature does not hold");
    else if (!desk_is_sender(hooks->desk))
        refuse(request, 503, "another replica of this clinic receives; send it there");
    else if (too_many(
                 hooks)) /* counted after the signature: strangers must not crowd out a gateway */
        turn_away(hooks, request, gateway, 429, "too many; send it again later");
    else
        hear(hooks, request, gateway);
}
