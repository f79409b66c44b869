/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/post.h"

#include <string.h>

#include "adapters/store/find_work.h"
#include "core/ledger/body.h"
#include "core/ledger/id.h"
#include "core/talk/sms.h"
#include "daemon/jobs/ahead.h"
#include "daemon/jobs/claim.h"
#include "daemon/jobs/erase.h"

/* Safety and alerts first, then answers, then reminders, then mail that nobody waits for. */
static int rank_of(MessageKind kind)
{
    switch (kind) {
    case MESSAGE_SAFETY:
    case MESSAGE_ALERT: return 0;
    case MESSAGE_STOPPED:
    case MESSAGE_HELP:
    case MESSAGE_ANSWER:
    case MESSAGE_QUESTION:
    case MESSAGE_UPDATE: return 1;
    case MESSAGE_WELCOME:
    case MESSAGE_REMINDER:
    case MESSAGE_NUDGE:
    case MESSAGE_CHECKIN:
    case MESSAGE_GOODBYE: return 2;
    case MESSAGE_DIGEST: return 3;
    }
    g_assert_not_reached();
}

static bool made_before(Job *job, const char *id)
{
    g_autoptr(Row) waiting = tx_get_text(job->tx, TABLE_OUTBOX, id);
    g_autoptr(Row) settled = tx_get_text(job->tx, TABLE_MESSAGE, id);

    return waiting != NULL || settled != NULL;
}

bool post_was_made(Job *job, const char *purpose)
{
    g_autofree char *id = id_message(purpose);

    return made_before(job, id);
}

static char *put(Job *job, Channel channel, const char *to, const char *client, const Post *post)
{
    g_autofree char *id = id_message(post->purpose);
    g_autoptr(Row) row = row_new(TABLE_OUTBOX);

    /* Only the sender has an outbox: what another replica records reaches it, and it acts then. */
    if (!job->sender || made_before(job, id)) return NULL;
    g_autofree char *plain = channel == CHANNEL_SMS ? sms_plain(post->text) : g_strdup(post->text);
    row_set_text(row, OUTBOX_ID, id);
    row_set_text(row, OUTBOX_CLIENT, client);
    row_set_text(row, OUTBOX_TO, to);
    row_set_text(row, OUTBOX_CHANNEL, channel_name(channel));
    row_set_text(row, OUTBOX_KIND, message_kind_name(post->kind));
    row_set_int(row, OUTBOX_RANK, rank_of(post->kind));
    row_set_text(row, OUTBOX_TEXT, plain);
    row_set_text(row, OUTBOX_SUBJECT, post->subject);
    row_set_text(row, OUTBOX_HTML, post->html);
    row_set_text(row, OUTBOX_SESSION, post->session);
    row_set_text(row, OUTBOX_ALERT, post->alert);
    row_set_int(row, OUTBOX_AT, job->now_ms);
    row_set_int(row, OUTBOX_END, post->end_ms);
    row_set_text(row, OUTBOX_STATE, fate_name(FATE_WAITING));
    row_set_int(row, OUTBOX_ATTEMPTS, 0);
    row_set_int(row, OUTBOX_NEXT_AT, MAX(job->now_ms, post->not_before_ms));
    if (post->reasons != NULL) {
        g_autofree char *reasons = body_text(post->reasons);
        row_set_text(row, OUTBOX_REASONS, reasons);
    }
    ahead_posted(job, client);
    if (!post->judged || !grant_use(job, row)) {
        tx_put(job->tx, row);
        job->posted = true;
    }
    return g_steal_pointer(&id);
}

char *post_client_by(Job *job, const Person *person, Channel channel, const char *address,
                     const Post *post)
{
    Post named = *post;

    if (channel == CHANNEL_PHONE || address == NULL) return NULL;
    if (channel == CHANNEL_EMAIL && named.subject == NULL) named.subject = job->clinic->name;
    return put(job, channel, address, person->id, &named);
}

char *post_client(Job *job, const Person *person, const Post *post)
{
    if (person->channel == CHANNEL_PHONE) return NULL;
    return post_client_by(job, person, person->channel, person->address[person->channel], post);
}

char *post_staff(Job *job, Channel channel, const char *to, const char *client, const Post *post)
{
    return put(job, channel, to, client, post);
}

GateCase post_gate(Job *job, const Person *person, Channel channel, MessageKind kind,
                   int64_t end_ms)
{
    const ZoneDay day = *job_day(job, person->zone);
    bool quiet = quiet_covers(job->clinic->quiet, day.local.second);
    int64_t over_ms =
        quiet ? quiet_over(job->clinic->quiet, person_zone(job, person), job->now_ms) : job->now_ms;

    return (GateCase){.kind = kind,
                      .now_ms = job->now_ms,
                      .end_ms = end_ms,
                      .consent = person->consent[channel],
                      .stopped = person->stopped,
                      .held = person->held,
                      .paused = person->paused,
                      .suspended = person->suspended,
                      .ended = person->ended,
                      .erased = !person->returned && channel != CHANNEL_PHONE &&
                                erase_knows(job, person->address[channel]),
                      .quiet = quiet,
                      .quiet_over_ms = over_ms,
                      .sent_today = ahead_started(job, person->id, day.from_ms, day.to_ms),
                      .per_day_max = job->clinic->per_day_max};
}
