/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/poll.h"

#include "adapters/sms/sms_gateway.h"
#include "daemon/intake/take_in.h"

struct Poll {
    Rounds rounds;
    Desk *desk;
    Net *net;
    PollOf of;
    char *cursor_of; /* under which name the cursor is kept */
    char *cursor;    /* NULL until read from the store */
    bool stuck;      /* the last answer's cursor could not be used */
};

static const PollMapping *mapping_of(const Poll *poll, const Gateway *gateway)
{
    if (poll->of == POLL_MESSAGES) return gateway->poll;
    return gateway->receipts != NULL ? gateway->receipts->poll : NULL;
}

/* NULL where the gateway, or its poll, has left the settings. */
static const Gateway *gateway_of(const Poll *poll)
{
    const Gateway *gateway =
        clinic_gateway(settings_clinic(desk_settings(poll->desk)), poll->rounds.name);

    return gateway != NULL && mapping_of(poll, gateway) != NULL ? gateway : NULL;
}

static void end_round(Poll *poll)
{
    const Gateway *gateway = gateway_of(poll);

    rounds_end(&poll->rounds, gateway != NULL ? mapping_of(poll, gateway)->every_ms : 0);
}

static void polled(StoreStatus status, int fresh, void *context)
{
    Poll *poll = context;

    if (status != STORE_OK) {
        /* Not stored: the cursor stays, and the same is asked for again. */
        g_clear_pointer(&poll->cursor, g_free);
        rounds_failed(&poll->rounds);
    }
    /* Asked again at once only while that brings what is new: some gateways move their cursor and send the same. */
    poll->rounds.full = poll->rounds.full && status == STORE_OK && fresh > 0;
    end_round(poll);
}

/* The first failure and the first good answer after it; why may quote what clients wrote, so it is not told. */
static void tell_poll(const Poll *poll, bool good, int status)
{
    g_autofree char *code = g_strdup_printf("%d", status);

    if (!good && poll->rounds.failures == 0)
        log_line(desk_log(poll->desk), LOG_WARNINGS, "poll.fails", "gateway", poll->rounds.name,
                 "status", code, NULL);
    if (good && poll->rounds.failures > 0)
        log_line(desk_log(poll->desk), LOG_WARNINGS, "poll.well", "gateway", poll->rounds.name,
                 NULL);
}

/* The same page comes for ever: somebody must look at the mapping. why names the place alone. */
static void tell_cursor(Poll *poll, const char *why)
{
    if (why != NULL && !poll->stuck)
        log_line(desk_log(poll->desk), LOG_WARNINGS, "poll.stuck", "gateway", poll->rounds.name,
                 "why", why, NULL);
    poll->stuck = why != NULL;
}

static void on_answer(WireResponse *response, void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll);
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    g_autoptr(GPtrArray) receipts = g_ptr_array_new_with_free_func((GDestroyNotify)receipt_free);
    g_autofree char *cursor = NULL;
    g_autofree char *why = NULL;
    bool unreachable = response->unreachable;
    bool heard = unreachable || response->phase == PHASE_ANSWERED;
    bool good =
        gateway != NULL &&
        (poll->of == POLL_MESSAGES ? sms_poll_read(gateway, response, items, &cursor, &why)
                                   : sms_receipts_read(gateway, response, receipts, &cursor, &why));

    tell_poll(poll, good, response->status);
    wire_response_free(response);
    const IntakeWatch *watch = poll->rounds.watch;
    if (heard && watch->heard != NULL) watch->heard(unreachable, watch->context);
    if (!good) {
        g_ptr_array_unref(items);
        rounds_failed(&poll->rounds);
        end_round(poll);
        return;
    }
    rounds_good(&poll->rounds);
    tell_cursor(poll, why);
    bool moved = cursor != NULL && g_strcmp0(cursor, poll->cursor) != 0;
    poll->rounds.full = items->len > 0 && moved;
    if (moved) {
        g_free(poll->cursor);
        poll->cursor = g_strdup(cursor);
    }
    if (items->len + receipts->len == 0 && !moved) {
        g_ptr_array_unref(items);
        polled(STORE_OK, 0, poll);
        return;
    }
    take_in(poll->desk,
            &(Taking){.gateway = poll->rounds.name,
                      .channel = CHANNEL_SMS,
                      .items = items,
                      .receipts = g_ptr_array_ref(receipts),
                      .cursor = moved ? cursor : NULL,
                      .cursor_of = poll->cursor_of},
            polled, poll);
}

static void ask(Poll *poll)
{
    const Gateway *gateway = gateway_of(poll);
    g_autofree char *why = NULL;

    WireRequest *request = NULL;

    /* Between the wish and now it may have been stopped, or have left the settings. */
    if (poll->rounds.running && gateway != NULL)
        request = (poll->of == POLL_MESSAGES ? sms_poll_request : sms_receipts_request)(
            gateway, poll->cursor, settings_secret, desk_settings(poll->desk), &why);
    if (request == NULL) {
        if (gateway != NULL && poll->rounds.running) rounds_failed(&poll->rounds);
        end_round(poll);
        return;
    }
    net_submit(poll->net, request, on_answer, poll);
}

static bool cursor_job(Job *job, void *context)
{
    Poll *poll = context;
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_CURSOR, poll->cursor_of);

    poll->cursor = g_strdup(row != NULL ? row_text(row, CURSOR_VALUE) : "");
    return true;
}

static void cursor_done(StoreStatus status, void *context)
{
    Poll *poll = context;

    if (status == STORE_OK && poll->cursor != NULL)
        ask(poll);
    else
        polled(status, 0, poll);
}

static void on_poll(void *context)
{
    Poll *poll = context;

    if (poll->rounds.busy || !poll->rounds.running || gateway_of(poll) == NULL) return;
    poll->rounds.busy = true;
    if (poll->cursor == NULL)
        desk_submit(poll->desk, cursor_job, cursor_done, poll);
    else
        ask(poll);
}

Rounds *poll_rounds(Poll *poll)
{
    return &poll->rounds;
}

Poll *poll_new(Desk *desk, Net *net, const IntakeWatch *watch, const char *gateway, PollOf of)
{
    Poll *poll = g_new0(Poll, 1);

    poll->desk = desk;
    poll->net = net;
    poll->of = of;
    poll->cursor_of =
        of == POLL_MESSAGES ? g_strdup(gateway) : g_strconcat(gateway, "/receipts", NULL);
    rounds_init(&poll->rounds, desk, watch, gateway, on_poll, poll);
    poll->rounds.silent = of == POLL_RECEIPTS;
    return poll;
}

void poll_free(Poll *poll)
{
    rounds_clear(&poll->rounds);
    g_free(poll->cursor);
    g_free(poll->cursor_of);
    g_free(poll);
}
