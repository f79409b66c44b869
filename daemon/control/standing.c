/* SPDX-License-Identifier: Apache-2.0 */
/* How things stand, in numbers, as far as the store knows. What only the loop knows is added by control.c. */
#include "adapters/store/find_standing.h"

#include "adapters/store/find_record.h"
#include "daemon/control/handlers.h"

static json_t *instant_or_null(int64_t ms)
{
    return ms != INT64_MAX ? json_instant(ms) : json_null();
}

#define TOLD_DAYS 7

/* Messages of the last week that a gateway accepted and should have sent a receipt for by now. */
static int64_t untold(Job *job)
{
    int64_t sum = 0;

    for (guint i = 0; i < job->clinic->gateways->len; i++) {
        const Gateway *gateway = job->clinic->gateways->pdata[i];
        if (gateway->receipts != NULL)
            sum += find_untold(job->tx, gateway->name, job->now_ms - TOLD_DAYS * DAY_MS,
                               job->now_ms - gateway->receipts->within_ms);
    }
    return sum;
}

bool handle_status(Job *job, Call *call)
{
    Standing standing;

    find_standing(job->tx, &standing);
    int64_t open = standing.alerts[0] + standing.alerts[1] + standing.alerts[2];
    return call_ok(
        call,
        json_pack("{s:s, s:s, s:o, s:b, s:s, s:b, s:I, s:I, s:o, s:I, s:I, s:I, s:I, s:I, s:o, "
                  "s:I, s:o, s:I, s:I}",
                  "clinic", job->clinic->name, "zone", job->clinic->zone, "now",
                  json_instant(job->now_ms), "made_up_clock", job->made_up, "replica",
                  tx_replica(job->tx), "sender", job->sender, "clients",
                  (json_int_t)standing.clients, "waiting", (json_int_t)standing.waiting,
                  "oldest_waiting", instant_or_null(standing.oldest_waiting_ms), "alerts",
                  (json_int_t)open, "alerts_now", (json_int_t)standing.alerts[0], "alerts_today",
                  (json_int_t)standing.alerts[1], "untaken_now", (json_int_t)standing.untaken_now,
                  "unread", (json_int_t)standing.unread, "oldest_unread",
                  instant_or_null(standing.oldest_unread_ms), "glance", (json_int_t)standing.glance,
                  "next_due", instant_or_null(standing.due_ms), "events",
                  (json_int_t)standing.events, "no_receipt", (json_int_t)untold(job)));
}
