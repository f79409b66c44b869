/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/laptop.h"

#include "core/ledger/chain.h"

struct Laptop {
    SimClinic *clinic;
    GPtrArray *events; /* of Event, the whole chain */
};

Laptop *laptop_new(SimClinic *clinic)
{
    Laptop *laptop = g_new0(Laptop, 1);

    laptop->clinic = clinic;
    laptop->events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free);
    return laptop;
}

void laptop_free(Laptop *laptop)
{
    if (laptop == NULL) return;
    g_ptr_array_unref(laptop->events);
    g_free(laptop);
}

void laptop_note(Laptop *laptop, const char *kind, const char *client, json_t *body)
{
    Event *event = event_new();
    guint before = laptop->events->len;
    const Event *last = before > 0 ? laptop->events->pdata[before - 1] : NULL;
    char *text = json_dumps(body, JSON_SORT_KEYS | JSON_COMPACT);

    event->replica = g_strdup(LAPTOP_REPLICA);
    event->seq = before + 1;
    event->wall = sim_now(laptop->clinic);
    event->kind = g_strdup(kind);
    event->subject = g_strdup(client);
    event->author = g_strdup("J. Lindqvist");
    event->body = g_strdup(text);
    chain_seal(event, last != NULL ? last->digest : NULL);
    g_ptr_array_add(laptop->events, event);
    trace_note(laptop->clinic->trace, "on the laptop: %s of client %s", kind, client);
    free(text);
    json_decref(body);
}

static bool accept_job(Job *job, void *context)
{
    const Laptop *laptop = context;

    for (guint i = 0; i < laptop->events->len; i++) {
        Accepted accepted = tx_accept(job->tx, laptop->events->pdata[i]);
        if (tx_is_lost(job->tx)) return true; /* taken in when it comes again */
        if (accepted != ACCEPT_NEW && accepted != ACCEPT_KNOWN)
            trace_break(laptop->clinic->trace, "what a laptop wrote is taken in", "event %u: %d", i,
                        accepted);
    }
    return true;
}

void laptop_meet(Laptop *laptop)
{
    if (laptop->clinic->daemon == NULL || laptop->events->len == 0) return;
    trace_note(laptop->clinic->trace, "the laptop is back");
    desk_submit(daemon_desk(laptop->clinic->daemon), accept_job, NULL, laptop);
    sim_settle(laptop->clinic);
}
