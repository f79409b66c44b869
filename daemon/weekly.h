/* SPDX-License-Identifier: Apache-2.0 */
/* The digest on its way from the job that gathered it, through the painter, to the job that posts it. */
#ifndef OSIER_DAEMON_WEEKLY_H
#define OSIER_DAEMON_WEEKLY_H

#include "daemon/jobs/digest.h"
#include "daemon/paint/painter.h"

/* On the loop; takes the draft over. What cannot be drawn or posted now stays due and is begun again. On a stepped clock it
 * is drawn on the spot: the order of events must not hang on how long a drawing took. */
void weekly_send(Desk *desk, Painter *painter, DigestDraft *draft);

#endif
