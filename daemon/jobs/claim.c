/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/claim.h"

#include <string.h>

#include "core/wire/message.h"
#include "daemon/jobs/calendar.h"
#include "daemon/jobs/unsubscribe.h"

void claim_free(Claim *claim)
{
    if (claim == NULL) return;
    g_free(claim->id);
    g_free(claim->to);
    g_free(claim->text);
    g_free(claim->subject);
    g_free(claim->html);
    g_free(claim->calendar);
    g_free(claim->unsubscribe);
    g_free(claim->kind);
    g_free(claim->client);
    g_free(claim->gateway);
    g_free(claim);
}

Claim *claim_mark(const Claim *claim)
{
    Claim *mark = g_new0(Claim, 1);

    mark->id = g_strdup(claim->id);
    mark->claimed_ms = claim->claimed_ms;
    return mark;
}

bool claim_goes_to_client(const Row *row)
{
    return !row_is_null(row, OUTBOX_CLIENT) && strcmp(row_text(row, OUTBOX_KIND), "alert") != 0;
}

/* The calendar file of whoever wants one goes with the first mail. Made now, for the plan may have changed since; and the same on
 * every try while the plan stays as it is. */
static char *calendar_with(Job *job, const Row *row)
{
    if (strcmp(row_text(row, OUTBOX_CHANNEL), "email") != 0 ||
        strcmp(row_text(row, OUTBOX_KIND), "welcome") != 0)
        return NULL;
    g_autoptr(Person) person = person_load(job, row_text(row, OUTBOX_CLIENT));
    return person != NULL && person->calendar
               ? calendar_for_client(job, person, row_int(row, OUTBOX_AT))
               : NULL;
}

static Claim *claim_new(Job *job, const Row *row)
{
    Claim *claim = g_new0(Claim, 1);

    claim->id = g_strdup(row_text(row, OUTBOX_ID));
    claim->to = g_strdup(row_text(row, OUTBOX_TO));
    claim->text = g_strdup(row_text(row, OUTBOX_TEXT));
    claim->subject = g_strdup(row_text(row, OUTBOX_SUBJECT));
    claim->html = g_strdup(row_text(row, OUTBOX_HTML));
    claim->calendar = calendar_with(job, row);
    claim->kind = g_strdup(row_text(row, OUTBOX_KIND));
    claim->client = g_strdup(row_text(row, OUTBOX_CLIENT));
    claim->gateway = g_strdup(row_text(row, OUTBOX_GATEWAY));
    claim->at_ms = row_int(row, OUTBOX_AT);
    claim->end_ms = row_int(row, OUTBOX_END);
    claim->claimed_ms = row_int(row, OUTBOX_WROTE_AT);
    claim->to_client = claim_goes_to_client(row);
    if (claim->to_client && strcmp(row_text(row, OUTBOX_CHANNEL), "email") == 0)
        claim->unsubscribe = unsubscribe_url(job, claim->client);
    claim->doubtful = g_strcmp0(row_text(row, OUTBOX_BOUND), claim->gateway) == 0;
    return claim;
}

Claim *claim_take(Job *job, Row *row, const Gateway *gateway)
{
    row_set_text(row, OUTBOX_STATE, fate_name(FATE_WRITING));
    row_set_int(row, OUTBOX_ATTEMPTS, row_int(row, OUTBOX_ATTEMPTS) + 1);
    row_set_int(row, OUTBOX_WROTE_AT, job->now_ms);
    row_set_text(row, OUTBOX_GATEWAY, gateway->name);
    tx_put(job->tx, row);
    return claim_new(job, row);
}

/* --- claimed while it is made --- */

Grant *grant_new(Channel channel, const char *gateway, int most)
{
    Grant *grant = g_new0(Grant, 1);

    *grant = (Grant){.channel = channel,
                     .gateway = g_strdup(gateway),
                     .most = most,
                     .left = most,
                     .claims = g_ptr_array_new_with_free_func((GDestroyNotify)claim_free)};
    return grant;
}

void grant_free(Grant *grant)
{
    if (grant == NULL) return;
    g_ptr_array_unref(grant->claims);
    g_free(grant->gateway);
    g_free(grant);
}

bool grant_use(Job *job, Row *row)
{
    Grant *grant = job->grant;

    if (grant == NULL || grant->left == 0 || row_int(row, OUTBOX_NEXT_AT) > job->now_ms ||
        strcmp(row_text(row, OUTBOX_CHANNEL), channel_name(grant->channel)) != 0)
        return false;
    const Gateway *gateway = clinic_gateway(job->clinic, grant->gateway);
    if (gateway == NULL) return false;
    grant->left--;
    g_ptr_array_add(grant->claims, claim_take(job, row, gateway));
    return true;
}
