/* SPDX-License-Identifier: Apache-2.0 */
/* The clock was set back: what was to happen so long from then still happens so long from then, where people wait for it. Store
 * thread. */
#ifndef OSIER_DAEMON_JOBS_CLOCK_BACK_H
#define OSIER_DAEMON_JOBS_CLOCK_BACK_H

#include "daemon/desk/desk.h"

/* by_ms: how far, more than 0. Alerts are passed on as soon as if nobody had touched the clock, at the latest; messages that
 * wait to be tried again, too. */
void clock_set_back(Job *job, int64_t by_ms);

/* Where nobody saw how far: each alert is looked at again at once, and nobody waits longer for what follows one, for a
 * number of pain or for a reply to settle than they ever do. Changes nothing where the clock was left alone. */
void clock_bound_waits(Job *job);

#endif
