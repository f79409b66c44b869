/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/relay_jobs.h"

#include "adapters/store/find_record.h"
#include "adapters/store/find_route.h"
#include "daemon/jobs/settle.h"

#define GIVEN_UP_AT_ONCE 256
#define AWAY_WORTH_MS (10 * MINUTE_MS)

bool relay_give_up_job(Job *job, void *context)
{
    (void)context;
    if (job->sender) settle_untaken(job, GIVEN_UP_AT_ONCE);
    return true;
}

/* Back after so long is worth the clinic's knowing: nothing was heard meanwhile. */
bool relay_return_job(Job *job, void *context)
{
    const RelayReturn *after = context;
    g_autoptr(GPtrArray) known = find_away(job->tx, after->since_ms, job->now_ms);

    if (!job->sender) return true;
    if (outbox_hurry(job->tx, job->now_ms, SETTLE_BACKOFF_MOST_MS) > 0) job->posted = true;
    if (job->now_ms - after->since_ms >= AWAY_WORTH_MS && known->len == 0)
        tx_append(job->tx, "sender.away", "clinic", "osier", NULL,
                  json_pack("{s:I, s:I, s:s}", "from", (json_int_t)after->since_ms, "to",
                            (json_int_t)job->now_ms, "why", "the clinic's line was down"));
    return true;
}

bool relay_unbind_job(Job *job, void *context)
{
    (void)context;
    if (job->sender) settle_unbind(job);
    return true;
}

bool relay_interrupted_job(Job *job, void *context)
{
    (void)context;
    settle_interrupted(job);
    settle_unbind(job);
    return true;
}
