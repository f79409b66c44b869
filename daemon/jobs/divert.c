/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/divert.h"

#include "adapters/store/find_route.h"
#include "core/talk/sms.h"
#include "daemon/desk/person.h"

#define PAGE 50
#define SEGMENTS_MOST 6 /* a longer mail is no text message */

/* Rewrites one message for the other channel, unless it is too long for it. */
static void move(Job *job, Row *row, const Person *person, Channel to)
{
    g_autofree char *plain = to == CHANNEL_SMS ? sms_plain(row_text(row, OUTBOX_TEXT))
                                               : g_strdup(row_text(row, OUTBOX_TEXT));

    if (to == CHANNEL_SMS && sms_size(plain).segments > SEGMENTS_MOST) return;
    row_set_text(row, OUTBOX_CHANNEL, channel_name(to));
    row_set_text(row, OUTBOX_TO, person->address[to]);
    row_set_text(row, OUTBOX_TEXT, plain);
    if (to == CHANNEL_EMAIL && row_is_null(row, OUTBOX_SUBJECT))
        row_set_text(row, OUTBOX_SUBJECT, job->clinic->name);
    row_set_text(row, OUTBOX_BOUND, NULL);
    row_set_int(row, OUTBOX_ATTEMPTS, 0);
    row_set_text(row, OUTBOX_REASON,
                 to == CHANNEL_EMAIL ? "goes by mail: no gateway for texts works"
                                     : "goes by text: no gateway for mail works");
    tx_put(job->tx, row);
    job->posted = true;
}

static void divert_client(Job *job, const char *client, Channel from, const Route *none)
{
    Channel to = from == CHANNEL_SMS ? CHANNEL_EMAIL : CHANNEL_SMS;
    g_autoptr(Person) person = person_load(job, client);

    if (person == NULL || !person->consent[to] || person->address[to] == NULL) return;
    g_autoptr(GPtrArray) rows =
        find_routed_of(job->tx, channel_name(from), none, job->now_ms, client);
    for (guint i = 0; i < rows->len; i++)
        move(job, rows->pdata[i], person, to);
}

void divert_page(Job *job, Channel from, const Route *none, char **after)
{
    g_autoptr(GPtrArray) clients =
        find_clients_routed(job->tx, channel_name(from), none, job->now_ms, *after, PAGE);

    for (guint i = 0; i < clients->len; i++)
        divert_client(job, clients->pdata[i], from, none);
    g_free(*after);
    *after = clients->len == PAGE ? g_strdup(clients->pdata[PAGE - 1]) : NULL;
}
