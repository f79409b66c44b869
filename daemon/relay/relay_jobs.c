/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/relay_jobs.h"

#include "adapters/store/find_route.h"
#include "daemon/jobs/settle.h"

#define GIVEN_UP_AT_ONCE 256

bool relay_give_up_job(Job *job, void *context)
{
    (void)context;
    if (job->sender) settle_untaken(job, GIVEN_UP_AT_ONCE);
    return true;
}

bool relay_return_job(Job *job, void *context)
{
    (void)context;
    if (job->sender && outbox_hurry(job->tx, job->now_ms, SETTLE_BACKOFF_MOST_MS) > 0)
        job->posted = true;
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
