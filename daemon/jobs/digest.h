/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's week: gathers the figures, renders, and mails at the clinic's time. Store thread. */
#ifndef OSIER_DAEMON_JOBS_DIGEST_H
#define OSIER_DAEMON_JOBS_DIGEST_H

#include "core/watch/digest.h"
#include "daemon/desk/desk.h"

/* Sets the next digest into the due index. */
void digest_schedule(Job *job);

/* The digest's time has come: mails the seven days before today and sets the next. */
void digest_send(Job *job);

/* The figures of the seven local days up to the one before end (a local date in the clinic's zone);
 * freed with digest_free. */
Digest *digest_gather(Job *job, Day end);

#endif
