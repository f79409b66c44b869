/* SPDX-License-Identifier: Apache-2.0 */
/* Erasing a client: the words go from the ledger, from what waits and from the folder; that somebody was erased, when, by
 * whom and why stays, with a keyed hash of each address so that nobody writes to it again by mistake. Store thread. */
#ifndef OSIER_DAEMON_JOBS_ERASE_H
#define OSIER_DAEMON_JOBS_ERASE_H

#include "daemon/desk/person.h"

/* Why the client cannot be erased now, in words (g_free), or NULL. */
char *erase_refused(Job *job, const Person *person, const char *why);

/* Erases. False where the folder cannot keep what must be kept; then nothing changed. */
bool erase_client(Job *job, const Person *person, const char *by, const char *why);

/* What is held outside the ledger about a client whose erasure has come: outbox, due things, codes, the spool. Called before
 * the job that brings the erasure ends. */
void erase_clean(Job *job, const char *client);

/* Another replica's event has come, and is not yet caught up with: where it erases somebody, here too the folder keeps the
 * list, and what is held outside the ledger goes. */
void erase_heard(Job *job, const Event *event);

/* Erasures that the folder knows and the store does not (it was restored from an old copy) are made again. */
void erase_again(Job *job);

/* Is the address one of somebody who was erased? */
bool erase_knows(Job *job, const char *address);

/* It will be asked of these (lent texts). */
void erase_look_ahead(Job *job, const GPtrArray *addresses);

#endif
