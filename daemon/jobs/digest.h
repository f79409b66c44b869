/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's week: gathers the figures, renders, and mails at the clinic's time. Store thread. */
#ifndef OSIER_DAEMON_JOBS_DIGEST_H
#define OSIER_DAEMON_JOBS_DIGEST_H

#include "core/paper/picture.h"
#include "core/watch/digest.h"
#include "daemon/desk/desk.h"

/* Sets the next digest into the due index. */
void digest_schedule(Job *job);

/* The digest's time has come: mails the seven days before today and sets the next. */
void digest_send(Job *job);

/* The figures of the seven local days up to the one before end (a local date in the clinic's zone);
 * freed with digest_free. */
Digest *digest_gather(Job *job, Day end);

/* digest_pictures.c: the clients side by side (picture_free; NULL where there are none); and into the
 * digest that picture and the courses of those who are to be called, as far as a mail has room. */
Picture *digest_adherence(const Digest *digest, const Pack *pack);
void digest_draw(Job *job, Digest *digest, const Pack *pack);

#endif
