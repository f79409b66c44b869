/* SPDX-License-Identifier: Apache-2.0 */
/* Which replica sends, and how the replicas of the clinic stand to one another. */
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/takeover.h"

static json_t *sender_json(Job *job)
{
    g_autoptr(Sender) sender = sender_load(job->tx);
    g_autofree char *why = sender_why_not(job->tx, sender);
    g_autofree char *name = sender->replica != NULL ? replica_name(job->tx, sender->replica) : NULL;

    return json_pack("{s:s?, s:s?, s:I, s:b, s:s?, s:o, s:s?}", "replica", sender->replica, "name",
                     name, "epoch", (json_int_t)sender->epoch, "here", sender->here, "by",
                     sender->by, "since",
                     sender->since > 0 ? json_instant(sender->since) : json_null(), "why", why);
}

bool handle_sender_show(Job *job, Call *call)
{
    return call_ok(call, sender_json(job));
}

bool handle_sender_take(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME, who gives this replica the duty to send");

    if (by == NULL) return false;
    takeover_take(job, by);
    return call_ok(call, sender_json(job));
}

bool handle_sync_status(Job *job, Call *call)
{
    g_autofree char *name = replica_name(job->tx, tx_replica(job->tx));

    return call_ok(call, json_pack("{s:s, s:s, s:o, s:o}", "replica", tx_replica(job->tx), "name",
                                   name, "sender", sender_json(job), "peers", json_array()));
}
