/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/outlook.h"

#include "adapters/store/find_work.h"
#include "daemon/desk/sender.h"

bool outlook_sender(Outlook *outlook, Tx *tx)
{
    if (!outlook->known || outlook->people_moves != tx_people_moves(tx) ||
        outlook->work_moves != tx_work_moves(tx))
        *outlook = (Outlook){.people_moves = tx_people_moves(tx),
                             .work_moves = tx_work_moves(tx),
                             .known = true,
                             .sender = sender_is_here(tx)};
    return outlook->sender;
}

void outlook_find(Outlook *outlook, Tx *tx)
{
    bool sends = outlook_sender(outlook, tx);

    if (outlook->found) return;
    outlook->due_ms = sends ? find_next_due(tx) : INT64_MAX;
    outlook->send_ms[0] = sends ? find_next_send(tx, "sms") : INT64_MAX;
    outlook->send_ms[1] = sends ? find_next_send(tx, "email") : INT64_MAX;
    outlook->found = true;
}
