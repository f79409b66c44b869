/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/intake.h"

#include <string.h>
#include <time.h>

#include "adapters/sms/sms_gateway.h"
#include "daemon/intake/take_in.h"
#include "daemon/jobs/settle.h"

#define HOOKS_A_SECOND 200
#define POLL_SLOWEST_MS (10 * MINUTE_MS)

typedef struct {
    Intake *intake;
    char *name;
    Timer *timer;
    bool busy;
    int failures;
    int64_t last_ms; /* of the last good answer; 0: none yet */
    char *cursor;    /* NULL until read from the store */
    bool full;       /* the last answer brought something: there may be more */
} Poll;

struct Intake {
    Desk *desk;
    Net *net;
    GPtrArray *polls; /* of Poll */
    bool running;
    int64_t second;
    int hooks_this_second;
};

/* --- polling
 * -------------------------------------------------------------------------------------------------------
 */

static const Gateway *gateway_of(const Intake *intake, const char *name)
{
    return clinic_gateway(settings_clinic(desk_settings(intake->desk)), name);
}

static int64_t now_of(const Intake *intake)
{
    return clock_now(desk_clock(intake->desk));
}

static void set_next(Poll *poll, const Gateway *gateway)
{
    int64_t wait_ms = gateway->poll->every_ms;

    for (int i = 1; i < poll->failures && wait_ms < POLL_SLOWEST_MS; i++)
        wait_ms *= 2;
    if (poll->failures > 1) wait_ms = MAX(gateway->poll->every_ms, MIN(wait_ms, POLL_SLOWEST_MS));
    timer_set(poll->timer, poll->full ? now_of(poll->intake) : now_of(poll->intake) + wait_ms);
    poll->full = false;
}

static void polled(StoreStatus status, void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll->intake, poll->name);

    poll->busy = false;
    if (status != STORE_OK) {
        /* Not stored: the cursor stays, and the same is asked for again. */
        g_clear_pointer(&poll->cursor, g_free);
        poll->full = false;
        poll->failures++;
    }
    if (poll->intake->running && gateway != NULL && gateway->poll != NULL) set_next(poll, gateway);
}

static void on_answer(WireResponse *response, void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll->intake, poll->name);
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    g_autofree char *cursor = NULL;
    g_autofree char *why = NULL;
    bool good = gateway != NULL && gateway->poll != NULL &&
                sms_poll_read(gateway, response, items, &cursor, &why);

    wire_response_free(response);
    if (!good) {
        poll->failures++;
        g_ptr_array_unref(items);
        poll->busy = false;
        if (poll->intake->running && gateway != NULL && gateway->poll != NULL)
            set_next(poll, gateway);
        return;
    }
    poll->failures = 0;
    poll->last_ms = now_of(poll->intake);
    bool moved = cursor != NULL && g_strcmp0(cursor, poll->cursor) != 0;
    poll->full = items->len > 0 && moved;
    if (moved) {
        g_free(poll->cursor);
        poll->cursor = g_strdup(cursor);
    }
    if (items->len == 0 && !moved) {
        g_ptr_array_unref(items);
        polled(STORE_OK, poll);
        return;
    }
    take_in(poll->intake->desk, poll->name, CHANNEL_SMS, items, moved ? cursor : NULL, polled,
            poll);
}

static void ask(Poll *poll)
{
    const Gateway *gateway = gateway_of(poll->intake, poll->name);
    g_autofree char *why = NULL;
    WireRequest *request = sms_poll_request(gateway, poll->cursor, settings_secret,
                                            desk_settings(poll->intake->desk), &why);

    if (request == NULL) {
        poll->failures++;
        poll->busy = false;
        set_next(poll, gateway);
        return;
    }
    net_submit(poll->intake->net, request, on_answer, poll);
}

static bool cursor_job(Job *job, void *context)
{
    Poll *poll = context;
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_CURSOR, poll->name);

    poll->cursor = g_strdup(row != NULL ? row_text(row, CURSOR_VALUE) : "");
    return true;
}

static void cursor_done(StoreStatus status, void *context)
{
    Poll *poll = context;

    if (status == STORE_OK && poll->cursor != NULL)
        ask(poll);
    else
        polled(status, poll);
}

static void on_poll(void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll->intake, poll->name);

    if (poll->busy || !poll->intake->running || gateway == NULL || gateway->poll == NULL) return;
    poll->busy = true;
    if (poll->cursor == NULL)
        desk_submit(poll->intake->desk, cursor_job, cursor_done, poll);
    else
        ask(poll);
}

static Poll *poll_of(Intake *intake, const char *name)
{
    for (guint i = 0; i < intake->polls->len; i++) {
        Poll *poll = intake->polls->pdata[i];
        if (strcmp(poll->name, name) == 0) return poll;
    }
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
            poll = g_new0(Poll, 1);
            poll->intake = intake;
            poll->name = g_strdup(gateway->name);
            poll->timer = timer_new(desk_clock(intake->desk), on_poll, poll);
            g_ptr_array_add(intake->polls, poll);
        }
        if (intake->running && !poll->busy) timer_set(poll->timer, now_of(intake));
    }
}

/* --- webhooks
 * ------------------------------------------------------------------------------------------------------
 */

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

static void stored(StoreStatus status, void *context)
{
    Hook *hook = context;

    if (status == STORE_OK)
        serve_answer_json(hook->request, hook->status, g_strdup("{}"));
    else
        refuse(hook->request, 503, "cannot store it now; send it again later");
    g_free(hook);
}

/* Signatures are judged by the real clock, also where the clinic's time is made up. */
static bool is_signed(Intake *intake, ServeRequest *request, const Signature *signature)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);

    return webhook_signed(signature, header_of, request, body, length, (int64_t)time(NULL),
                          settings_secret, desk_settings(intake->desk));
}

static void hear_message(Intake *intake, ServeRequest *request, const Gateway *gateway)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);
    Incoming *incoming =
        webhook_read(gateway->webhook, serve_header(request, "Content-Type"), body, length);
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    Hook *hook = g_new0(Hook, 1);

    *hook = (Hook){.request = request, .status = incoming->problem != NULL ? 202 : 200};
    g_ptr_array_add(items, incoming);
    take_in(intake->desk, gateway->name, CHANNEL_SMS, items, NULL, stored, hook);
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
    stored(status, hook);
}

static void hear_receipt(Intake *intake, ServeRequest *request, const Gateway *gateway)
{
    gsize length;
    const void *body = g_bytes_get_data(serve_body(request), &length);
    Receipt *receipt =
        receipt_read(gateway->receipts, serve_header(request, "Content-Type"), body, length);

    if (receipt == NULL) {
        serve_answer_json(request, 202, g_strdup("{}"));
        return;
    }
    ReceiptErrand *errand = g_new0(ReceiptErrand, 1);
    *errand = (ReceiptErrand){.hook = {.request = request, .status = 200},
                              .gateway = g_strdup(gateway->name),
                              .receipt = receipt};
    desk_submit(intake->desk, receipt_job, receipt_done, errand);
}

static bool too_many(Intake *intake)
{
    int64_t second = g_get_monotonic_time() / G_USEC_PER_SEC;

    if (second != intake->second) {
        intake->second = second;
        intake->hooks_this_second = 0;
    }
    return ++intake->hooks_this_second > HOOKS_A_SECOND;
}

typedef void Hear(Intake *intake, ServeRequest *request, const Gateway *gateway);

/* Which gateway's path it is, and what is heard there. */
static Hear *find_path(Intake *intake, const char *path, const Gateway **gateway,
                       const Signature **signature)
{
    const Clinic *clinic = settings_clinic(desk_settings(intake->desk));

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

void intake_hook(ServeRequest *request, void *context)
{
    Intake *intake = context;
    const Gateway *gateway = NULL;
    const Signature *signature = NULL;
    Hear *hear = find_path(intake, serve_path(request), &gateway, &signature);

    if (hear == NULL)
        refuse(request, 404, "nothing is heard at this path");
    else if (strcmp(serve_method(request), "POST") != 0)
        refuse(request, 405, "only POST is heard here");
    else if (too_many(intake))
        refuse(request, 429, "too many; send it again later");
    else if (!is_signed(intake, request, signature))
        refuse(request, 401, "the signature does not hold");
    else
        hear(intake, request, gateway);
}

/* --- life
 * ----------------------------------------------------------------------------------------------------------
 */

static void poll_free(void *data)
{
    Poll *poll = data;

    timer_free(poll->timer);
    g_free(poll->name);
    g_free(poll->cursor);
    g_free(poll);
}

Intake *intake_new(Desk *desk, Net *net)
{
    Intake *intake = g_new0(Intake, 1);

    intake->desk = desk;
    intake->net = net;
    intake->polls = g_ptr_array_new_with_free_func(poll_free);
    return intake;
}

void intake_start(Intake *intake)
{
    intake->running = true;
    take_in_read(intake->desk);
    intake_reload(intake);
}

void intake_stop(Intake *intake)
{
    intake->running = false;
    for (guint i = 0; i < intake->polls->len; i++)
        timer_set(((Poll *)intake->polls->pdata[i])->timer, CLOCK_NEVER);
}

int intake_busy(const Intake *intake)
{
    int busy = 0;

    for (guint i = 0; i < intake->polls->len; i++)
        busy += ((const Poll *)intake->polls->pdata[i])->busy;
    return busy;
}

void intake_free(Intake *intake)
{
    if (intake == NULL) return;
    g_ptr_array_unref(intake->polls);
    g_free(intake);
}

json_t *intake_json(const Intake *intake)
{
    json_t *polls = json_array();

    for (guint i = 0; i < intake->polls->len; i++) {
        const Poll *poll = intake->polls->pdata[i];
        g_autofree char *last = poll->last_ms > 0 ? instant_format(poll->last_ms) : NULL;
        json_array_append_new(polls, json_pack("{s:s, s:s?, s:i}", "name", poll->name, "last", last,
                                               "failures", poll->failures));
    }
    return polls;
}
