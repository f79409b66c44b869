/* SPDX-License-Identifier: Apache-2.0 */
/* What the log and the figures tell of the ledger's events. Of each kind only the fields that stand in a list are told, and
 * none of them holds personal data; a kind that is not in the list is told by its name alone. */
#ifndef OSIER_DAEMON_LOG_TOLD_H
#define OSIER_DAEMON_LOG_TOLD_H

#include "core/ledger/event.h"
#include "core/wire/message.h"

enum { TALLY_FATES = FATE_UNSURE + 1 };

/* Counts of what was written since the start. */
typedef struct {
    int64_t events;
    int64_t fates[TALLY_FATES]; /* message.settled, by fate */
    int64_t alerts[3];          /* alert.opened, by class: now, today, digest */
    int64_t replies;            /* reply.received */
    int64_t asked;              /* session.asked */
} Tally;

void tally_add(Tally *to, const Tally *from);

/* Counts an event; with lines not NULL it is also put into them, one line each. full: also whose it is, and why. */
void told_event(Tally *tally, GString *lines, bool full, const Event *event, const json_t *body);

#endif
