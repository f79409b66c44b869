/* SPDX-License-Identifier: Apache-2.0 */
/* One click that ends mail (RFC 8058): the link that a mail's head carries, whose it is, and what following it does. The token is a
 * keyed hash of client and channel by the keys that the clinic's replicas share, so nothing is kept for it, nobody guesses it, and
 * it lasts as long as the client. Store thread. */
#ifndef OSIER_DAEMON_JOBS_UNSUBSCRIBE_H
#define OSIER_DAEMON_JOBS_UNSUBSCRIBE_H

#include "daemon/desk/person.h"

#define UNSUBSCRIBE_PATH "/unsubscribe/email/"

/* "https://HOST/unsubscribe/email/CLIENT/TOKEN" (g_free). NULL where nobody would answer there: the page has no public https
 * address, or no account, without which it is not served. */
char *unsubscribe_url(Job *job, const char *client);

/* Whose token it is (person_free), or NULL. Nothing changes. */
Person *unsubscribe_person(Job *job, const char *client, const char *token);

/* The consent to mail ends at once. Where mail is how the client is written to, it is the word STOP as well: one mail confirms
 * it, and a clinician is told. Again does nothing. */
void unsubscribe_email(Job *job, const Person *person);

/* Whoever ended a channel by a click and then writes START from it gives the consent anew. */
void unsubscribe_undo(Job *job, const Person *person, Channel channel);

#endif
