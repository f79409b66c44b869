/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway's receipt makes of a message that it had accepted. */
#include <string.h>

#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/settle.h"

static void open_failed(Job *job, const Row *message)
{
    if (row_is_null(message, MESSAGE_CLIENT)) return;
    if (strcmp(row_text(message, MESSAGE_KIND), "alert") == 0) return;
    g_autoptr(Person) person = person_load(job, row_text(message, MESSAGE_CLIENT));
    json_t *reasons = json_array();

    json_array_append_new(reasons,
                          reason_words("undeliverable", "a receipt says that it failed", NULL));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "undeliverable",
                                 .class = ALERT_TODAY,
                                 .cause = row_text(message, MESSAGE_ID),
                                 .reasons = reasons}));
    json_decref(reasons);
}

bool settle_receipt(Job *job, const char *gateway, const Receipt *receipt)
{
    g_autoptr(Row) message = find_message_by_gateway_id(job->tx, gateway, receipt->gateway_id);
    Fate now = FATE_ACCEPTED;

    if (message == NULL) {
        /* It may have overtaken the answer to the send, or the record of that answer. */
        if (receipt->fate != FATE_ACCEPTED)
            receipt_keep(job->tx, gateway, receipt->gateway_id, fate_name(receipt->fate),
                         job->now_ms);
        return false;
    }
    fate_from_name(row_text(message, MESSAGE_FATE), &now);
    if (!fate_may_become(now, receipt->fate) || now == receipt->fate) return true;
    tx_append(
        job->tx, "message.settled",
        row_is_null(message, MESSAGE_CLIENT) ? "clinic" : row_text(message, MESSAGE_CLIENT),
        "osier", NULL,
        json_pack(
            "{s:s, s:s?, s:s, s:s, s:s, s:s, s:s?, s:I, s:s?, s:s?, s:s, s:I, s:s, s:s, s:I, s:f}",
            "message", row_text(message, MESSAGE_ID), "client", row_text(message, MESSAGE_CLIENT),
            "to", row_text(message, MESSAGE_TO), "channel", row_text(message, MESSAGE_CHANNEL),
            "kind", row_text(message, MESSAGE_KIND), "text", row_text(message, MESSAGE_TEXT),
            "subject", row_text(message, MESSAGE_SUBJECT), "at",
            (json_int_t)row_int(message, MESSAGE_AT), "session", row_text(message, MESSAGE_SESSION),
            "alert", row_text(message, MESSAGE_FOR_ALERT), "fate", fate_name(receipt->fate),
            "fate_at", (json_int_t)job->now_ms, "gateway", gateway, "gateway_id",
            receipt->gateway_id, "segments", (json_int_t)row_int(message, MESSAGE_SEGMENTS),
            "price", row_real(message, MESSAGE_PRICE)));
    if (receipt->fate == FATE_FAILED) open_failed(job, message);
    return true;
}
