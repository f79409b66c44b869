/* SPDX-License-Identifier: Apache-2.0 */
/* The link under which a client's calendar may be fetched. A token of 128 bits is all that it takes, so it is told once, kept as a
 * hash alone, and taken back by command. What is known of it stands in the meta table of the replica that serves the page:
 * "feed.HASH". Store thread. */
#ifndef OSIER_DAEMON_JOBS_FEED_H
#define OSIER_DAEMON_JOBS_FEED_H

#include "daemon/desk/person.h"

/* A fresh token for the client (g_free); what was there before is void. */
char *feed_make(Job *job, const Person *person, const char *by);

/* Takes the client's link back. How many there were: 0 or 1. */
int feed_revoke(Job *job, const char *client);

/* The calendar file under a token (g_free), or NULL where there is none. */
char *feed_file(Job *job, const char *token);

/* The address of a token, or NULL where the page has none that is public (g_free). */
char *feed_url(const Clinic *clinic, const char *token);

#endif
