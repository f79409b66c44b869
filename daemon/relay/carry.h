/* SPDX-License-Identifier: Apache-2.0 */
/* A claim on its way to a gateway: as a request over the net, in the hands of a program, or into the spool folder. */
#ifndef OSIER_DAEMON_RELAY_CARRY_H
#define OSIER_DAEMON_RELAY_CARRY_H

#include "daemon/relay/line.h"

/* It has ended: settlement is taken over. asked: the gateway was asked whether it has the message, and was not given it. response:
 * what came back over the net, lent; NULL where it went another way. */
typedef void CarryDone(Claim *claim, Settlement settlement, bool asked,
                       const WireResponse *response, void *context);

/* Sets out with a claim, which stays the caller's. courier: the gateway's program, or NULL. True: it counts among the share's
 * exchanges until done is called, on the loop. False: it has ended here and now, as *ended says, which the caller takes over. */
bool carry(LineShare *share, const char *gateway, Courier *courier, Claim *claim, CarryDone *done,
           void *context, Settlement *ended);

#endif
