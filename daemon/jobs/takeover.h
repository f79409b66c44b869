/* SPDX-License-Identifier: Apache-2.0 */
/* The duty to send changes hands: what was due elsewhere is made due here, what waits here goes no more. Store thread. */
#ifndef OSIER_DAEMON_JOBS_TAKEOVER_H
#define OSIER_DAEMON_JOBS_TAKEOVER_H

#include "daemon/desk/person.h"

/* Takes the duty for this replica with the next epoch; by: who says so. Where it has the duty already and ever took it by
 * name, nothing changes. The epoch that holds then. */
int64_t takeover_take(Job *job, const char *by);

/* Makes due what the tables say is still to be done: sessions, answers awaited, alerts, replies, pauses, the digest. What the
 * sender before left without a fate is unsure. */
void takeover_begin(Job *job);

/* The same for what concerns one client, session, alert or reply (rows of their tables): for the sender, who hears of it from
 * another replica. */
void takeover_pauses(Job *job, const Person *person);
void takeover_session(Job *job, const Row *session);
void takeover_alert(Job *job, const Row *alert);
void takeover_reply(Job *job, const Row *reply);

/* Drops a message that waits here, with the fate lapsed and why. */
void takeover_lapse(Job *job, const Row *row, const char *why);

/* Messages that wait here are lapsed, so that each has a fate: another replica has the duty, or they are those of a copy. */
void takeover_end(Job *job, const char *why);

#endif
