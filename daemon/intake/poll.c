/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/poll.h"

#include "adapters/sms/sms_gateway.h"
#include "adapters/store/find_record.h"
#include "daemon/intake/take_in.h"

#define POLL_SLOWEST_MS (10 * MINUTE_MS)
#define DEAF_WORTH_MS                                                                              \
    HOUR_MS /* a gateway that did not answer for so long is time in which osier was not listening */

struct Poll {
    Desk *desk;
    Net *net;
    char *name;
    PollHeard *heard;
    void *heard_context;
    Timer *timer;
    bool running;
    bool busy;
    int failures;
    int64_t last_ms;  /* of the last good answer; 0: none yet */
    int64_t since_ms; /* that, or when polling began: from then on nothing was heard */
    char *cursor;     /* NULL until read from the store */
    bool full;        /* the last answer brought something: there may be more */
};

/* NULL where the gateway, or its poll, has left the settings. */
static const Gateway *gateway_of(const Poll *poll)
{
    const Gateway *gateway = clinic_gateway(settings_clinic(desk_settings(poll->desk)), poll->name);

    return gateway != NULL && gateway->poll != NULL ? gateway : NULL;
}

static int64_t now_of(const Poll *poll)
{
    return clock_now(desk_clock(poll->desk));
}

static void set_next(Poll *poll, const Gateway *gateway)
{
    int64_t wait_ms = gateway->poll->every_ms;

    for (int i = 1; i < poll->failures && wait_ms < POLL_SLOWEST_MS; i++)
        wait_ms *= 2;
    if (poll->failures > 1) wait_ms = MAX(gateway->poll->every_ms, MIN(wait_ms, POLL_SLOWEST_MS));
    timer_set(poll->timer, poll->full ? now_of(poll) : now_of(poll) + wait_ms);
    poll->full = false;
}

static void polled(StoreStatus status, int fresh, void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll);

    poll->busy = false;
    if (status != STORE_OK) {
        /* Not stored: the cursor stays, and the same is asked for again. */
        g_clear_pointer(&poll->cursor, g_free);
        poll->failures++;
    }
    /* Asked again at once only while that brings what is new: some gateways move their cursor and send the same. */
    poll->full = poll->full && status == STORE_OK && fresh > 0;
    if (poll->running && gateway != NULL) set_next(poll, gateway);
}

typedef struct {
    char *gateway;
    int64_t from_ms;
} Deaf;

static bool deaf_job(Job *job, void *context)
{
    const Deaf *deaf = context;
    g_autofree char *why = g_strdup_printf("gateway %s did not answer", deaf->gateway);
    g_autoptr(GPtrArray) known = find_away(job->tx, deaf->from_ms, job->now_ms);

    if (known->len > 0) return true; /* the clinic knows: the line was down, or osier away */
    tx_append(job->tx, "sender.away", "clinic", "osier", NULL,
              json_pack("{s:I, s:I, s:s}", "from", (json_int_t)deaf->from_ms, "to",
                        (json_int_t)job->now_ms, "why", why));
    return true;
}

static void deaf_done(StoreStatus status, void *context)
{
    Deaf *deaf = context;

    (void)status;
    g_free(deaf->gateway);
    g_free(deaf);
}

/* The gateway answers again after so long that the clinic should know. */
static void note_deaf(const Poll *poll)
{
    if (poll->failures == 0 || now_of(poll) - poll->since_ms < DEAF_WORTH_MS) return;
    Deaf *deaf = g_new0(Deaf, 1);
    *deaf = (Deaf){.gateway = g_strdup(poll->name), .from_ms = poll->since_ms};
    desk_submit(poll->desk, deaf_job, deaf_done, deaf);
}

static void on_answer(WireResponse *response, void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll);
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    g_autofree char *cursor = NULL;
    g_autofree char *why = NULL;
    bool unreachable = response->unreachable;
    bool heard = unreachable || response->phase != PHASE_NEVER_LEFT;
    bool good = gateway != NULL && sms_poll_read(gateway, response, items, &cursor, &why);

    wire_response_free(response);
    if (heard) poll->heard(unreachable, poll->heard_context);
    if (!good) {
        poll->failures++;
        g_ptr_array_unref(items);
        poll->busy = false;
        if (poll->running && gateway != NULL) set_next(poll, gateway);
        return;
    }
    note_deaf(poll);
    poll->failures = 0;
    poll->last_ms = poll->since_ms = now_of(poll);
    bool moved = cursor != NULL && g_strcmp0(cursor, poll->cursor) != 0;
    poll->full = items->len > 0 && moved;
    if (moved) {
        g_free(poll->cursor);
        poll->cursor = g_strdup(cursor);
    }
    if (items->len == 0 && !moved) {
        g_ptr_array_unref(items);
        polled(STORE_OK, 0, poll);
        return;
    }
    take_in(poll->desk, poll->name, CHANNEL_SMS, items, moved ? cursor : NULL, polled, poll);
}

static void ask(Poll *poll)
{
    const Gateway *gateway = gateway_of(poll);
    g_autofree char *why = NULL;

    /* Between the wish and now it may have been stopped, or have left the settings. */
    WireRequest *request = poll->running && gateway != NULL
                               ? sms_poll_request(gateway, poll->cursor, settings_secret,
                                                  desk_settings(poll->desk), &why)
                               : NULL;
    if (request == NULL) {
        poll->failures += gateway != NULL && poll->running;
        poll->busy = false;
        if (poll->running && gateway != NULL) set_next(poll, gateway);
        return;
    }
    net_submit(poll->net, request, on_answer, poll);
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
        polled(status, 0, poll);
}

static void on_poll(void *context)
{
    Poll *poll = context;
    const Gateway *gateway = gateway_of(poll);

    if (poll->busy || !poll->running || gateway == NULL) return;
    poll->busy = true;
    if (poll->cursor == NULL)
        desk_submit(poll->desk, cursor_job, cursor_done, poll);
    else
        ask(poll);
}

void poll_start(Poll *poll)
{
    if (!poll->running) poll->since_ms = now_of(poll);
    poll->running = true;
    if (!poll->busy) timer_set(poll->timer, now_of(poll));
}

void poll_stop(Poll *poll)
{
    poll->running = false;
    timer_set(poll->timer, CLOCK_NEVER);
}

Poll *poll_new(Desk *desk, Net *net, const char *gateway, PollHeard *heard, void *context)
{
    Poll *poll = g_new0(Poll, 1);

    poll->desk = desk;
    poll->net = net;
    poll->name = g_strdup(gateway);
    poll->heard = heard;
    poll->heard_context = context;
    poll->timer = timer_new(desk_clock(desk), on_poll, poll);
    return poll;
}

void poll_free(Poll *poll)
{
    timer_free(poll->timer);
    g_free(poll->name);
    g_free(poll->cursor);
    g_free(poll);
}

const char *poll_name(const Poll *poll)
{
    return poll->name;
}

bool poll_busy(const Poll *poll)
{
    return poll->busy;
}

json_t *poll_json(const Poll *poll)
{
    g_autofree char *last = poll->last_ms > 0 ? instant_format(poll->last_ms) : NULL;

    return json_pack("{s:s, s:s?, s:i}", "name", poll->name, "last", last, "failures",
                     poll->failures);
}
