/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway's receipt makes of a message that it had accepted. */
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/settle.h"

/* Some gateways name a message by the {id} that they were given rather than by their own. */
static Row *named_by_ours(Job *job, const char *gateway, const char *id)
{
    bool ours = id != NULL && id_is_derived(id);
    g_autoptr(Row) message = ours ? tx_get_text(job->tx, TABLE_MESSAGE, id) : NULL;
    bool sent_there =
        message != NULL && g_strcmp0(row_text(message, MESSAGE_GATEWAY), gateway) == 0;

    return sent_there ? g_steal_pointer(&message) : NULL;
}

static Row *receipt_for(Job *job, const char *gateway, const Receipt *receipt)
{
    if (receipt->message != NULL) return tx_get_text(job->tx, TABLE_MESSAGE, receipt->message);
    Row *message = find_message_by_gateway_id(job->tx, gateway, receipt->gateway_id);
    return message != NULL ? message : named_by_ours(job, gateway, receipt->gateway_id);
}

static void put_receipt(Job *job, const Row *message, const Receipt *receipt)
{
    const char *client = row_text(message, MESSAGE_CLIENT);
    const char *own = row_text(message, MESSAGE_GATEWAY_ID);
    const char *known_by = own != NULL ? own : receipt->gateway_id;

    tx_append(
        job->tx, "message.settled", client != NULL ? client : "clinic", "osier", NULL,
        json_pack("{s:s, s:s?, s:s, s:s, s:s, s:s, s:s?, s:I, s:s?, s:s?, s:s, s:I, s:s?, "
                  "s:s?, s:I, s:f, s:s?}",
                  "message", row_text(message, MESSAGE_ID), "client", client, "to",
                  row_text(message, MESSAGE_TO), "channel", row_text(message, MESSAGE_CHANNEL),
                  "kind", row_text(message, MESSAGE_KIND), "text", row_text(message, MESSAGE_TEXT),
                  "subject", row_text(message, MESSAGE_SUBJECT), "at",
                  (json_int_t)row_int(message, MESSAGE_AT), "session",
                  row_text(message, MESSAGE_SESSION), "alert", row_text(message, MESSAGE_FOR_ALERT),
                  "fate", fate_name(receipt->fate), "fate_at", (json_int_t)job->now_ms, "gateway",
                  row_text(message, MESSAGE_GATEWAY), "gateway_id", known_by, "segments",
                  (json_int_t)row_int(message, MESSAGE_SEGMENTS), "price",
                  row_real(message, MESSAGE_PRICE), "reason", receipt->reason));
}

bool settle_receipt(Job *job, const char *gateway, const Receipt *receipt)
{
    g_autoptr(Row) message = receipt_for(job, gateway, receipt);
    Fate now = FATE_ACCEPTED;

    if (message == NULL) {
        /* It may have overtaken the answer to the send, or the record of that answer. */
        if (receipt->fate != FATE_ACCEPTED && receipt->gateway_id != NULL)
            receipt_keep(job->tx, gateway, receipt->gateway_id, fate_name(receipt->fate),
                         job->now_ms);
        return false;
    }
    fate_from_name(row_text(message, MESSAGE_FATE), &now);
    if (!fate_may_become(now, receipt->fate) || now == receipt->fate) return true;
    put_receipt(job, message, receipt);
    if (receipt->fate == FATE_FAILED)
        settle_open_failed(job, row_text(message, MESSAGE_CLIENT), row_text(message, MESSAGE_KIND),
                           row_text(message, MESSAGE_ID),
                           receipt->reason != NULL ? receipt->reason
                                                   : "a receipt says that it failed");
    return true;
}
