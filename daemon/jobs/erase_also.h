/* SPDX-License-Identifier: Apache-2.0 */
/* What else of the ledger speaks of a client who is to be erased, beside what stands under the client's own id. Store thread. */
#ifndef OSIER_DAEMON_JOBS_ERASE_ALSO_H
#define OSIER_DAEMON_JOBS_ERASE_ALSO_H

#include "daemon/desk/person.h"

/* Subjects and single events ("REPLICA:SEQ"), as client.erase names them: the client's other ids, replies and alerts; replies from
 * an address that is this client's alone; and what is of the clinic, such as a digest, and names the client. What is of another
 * client stays, whoever is named in it. A new reference. */
json_t *erase_also(Job *job, const Person *person);

/* The code of an alert that is not closed, is the client's or of the clinic, and would lose its words with the client (g_free), or
 * NULL. One without its words is called about no more. */
char *erase_open_alert(Job *job, const Person *person);

/* Does a text hold the client's name, an id, or an address that is or was theirs? The reason of an erasure stays for good. */
bool erase_names(Job *job, const Person *person, const char *text);

/* Does one of these texts stand in the document, as words of their own ("Al" is not in "fall"), in whatever case? */
bool erase_speaks_of(const json_t *document, const GPtrArray *texts);

#endif
