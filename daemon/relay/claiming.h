/* SPDX-License-Identifier: Apache-2.0 */
/* Claims messages for a line: of the channels that its gateway serves, those that are its own as the gateways are now, as many as
 * it has room for. One job at a time for each line. */
#ifndef OSIER_DAEMON_RELAY_CLAIMING_H
#define OSIER_DAEMON_RELAY_CLAIMING_H

#include "core/clinic/route.h"
#include "daemon/relay/line.h"

/* What all claims share. done is called on the loop when one has ended, with the context that up gets too. */
typedef struct {
    Desk *desk;
    RouteUp *up;
    int64_t next_send_ms[2]; /* when the next message of each channel comes due: sms, email */
    void (*done)(void *context);
    void *context;
} Claiming;

/* Begins a claim where something has come due for the line and it has room; else *again_ms is lowered to when to try again. */
void claiming_try(Claiming *claiming, Line *line, int64_t now_ms, int64_t *again_ms);

#endif
