/* SPDX-License-Identifier: Apache-2.0 */
/* A client's sessions as a calendar file. Store thread. */
#ifndef OSIER_DAEMON_JOBS_CALENDAR_H
#define OSIER_DAEMON_JOBS_CALENDAR_H

#include "daemon/desk/person.h"

/* For the client: titled as the reminder mail is, with its text (g_free). Empty of events where there is no plan, and while the
 * client is on hold, on pause, or wants no messages. at_ms: when it was made, which stands in it. */
char *calendar_for_client(Job *job, const Person *person, int64_t at_ms);

/* For the feed, which strangers' machines may fetch and keep: a title of two words, no text, no id of the client. uid: what its
 * events are known by; source: the feed's own address. */
char *calendar_for_feed(Job *job, const Person *person, const char *uid, const char *source);

#endif
