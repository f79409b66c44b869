/* SPDX-License-Identifier: Apache-2.0 */
/* What stands in the store for the desk to go by: whether this replica sends, and when something is to be done next. Most jobs
 * change nothing of it, so it is looked up anew only where one may have. Store thread. */
#ifndef OSIER_DAEMON_DESK_OUTLOOK_H
#define OSIER_DAEMON_DESK_OUTLOOK_H

#include "adapters/store/store.h"

/* All zero before the first look. */
typedef struct {
    int64_t people_moves, work_moves; /* as of these counts of changes */
    bool known;
    bool sender;
    bool found;         /* so is what follows */
    int64_t due_ms;     /* the next due thing; INT64_MAX: none */
    int64_t send_ms[2]; /* the next message that may be tried, by channel: sms, email */
} Outlook;

bool outlook_sender(Outlook *outlook, Tx *tx);

/* Finds due_ms and send_ms: nothing where another replica sends. */
void outlook_find(Outlook *outlook, Tx *tx);

#endif
