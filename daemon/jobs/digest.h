/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's week: gathers the figures, renders, and mails at the clinic's time. Store thread. */
#ifndef OSIER_DAEMON_JOBS_DIGEST_H
#define OSIER_DAEMON_JOBS_DIGEST_H

#include "daemon/desk/desk.h"
#include "daemon/paint/drawing.h"

/* Sets the next digest into the due index. */
void digest_schedule(Job *job);

/* A digest on its way: gathered in one job, drawn elsewhere, posted in another. */
typedef struct {
    Drawing *drawing; /* of its page; NULL once it was handed on */
    char *text;       /* the same as plain text */
    char *subject;
    char *from; /* its first and its last date */
    char *to;
    char *html; /* once drawn */
} DigestDraft;

void digest_draft_free(DigestDraft *draft);

/* The digest's time has come: gathers the seven days before today. Until it is posted it stays due, some
 * minutes from now: one that was lost on the way is made again. */
DigestDraft *digest_begin(Job *job);

/* Mails it to everybody who is to have it and sets the next. */
void digest_post(Job *job, const DigestDraft *draft);

/* The figures of the seven local days up to the one before end (a local date in the clinic's zone);
 * freed with digest_free. */
Digest *digest_gather(Job *job, Day end);

/* digest_pictures.c: the clients side by side (picture_free; NULL where there are none); and what is to be
 * drawn into the digest (of Picture, which the array frees): that, and the courses of those who are to be called, each under
 * its client's name. */
Picture *digest_adherence(const Digest *digest, const Pack *pack);
GPtrArray *digest_pictures(Job *job, const Digest *digest, const Pack *pack);

#endif
