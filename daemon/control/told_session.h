/* SPDX-License-Identifier: Apache-2.0 */
/* Which session a person means who writes down what a client did. Store thread. */
#ifndef OSIER_DAEMON_CONTROL_TOLD_SESSION_H
#define OSIER_DAEMON_CONTROL_TOLD_SESSION_H

#include "daemon/control/call.h"
#include "daemon/desk/person.h"

/* The session that the fields session, or date and slot (1 where it is not given), name (g_free). NULL after answering: none such,
 * another client's, or one still to come. *planned: no row tells of it yet, and instant says when the plan has it. */
char *told_session(Job *job, Call *call, const Person *person, SessionInstant *instant,
                   bool *planned);

#endif
