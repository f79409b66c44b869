/* SPDX-License-Identifier: Apache-2.0 */
/* Messages that passed the last gate and are on their way to a gateway. Store thread, but for the freeing. */
#ifndef OSIER_DAEMON_JOBS_CLAIM_H
#define OSIER_DAEMON_JOBS_CLAIM_H

#include "core/clinic/clinic.h"
#include "daemon/desk/person.h"

/* A message that is marked writing. Owned. */
typedef struct {
    char *id;
    char *to;
    char *text;
    char *subject;
    char *html;
    char *calendar;    /* the file that goes with it, or NULL */
    char *unsubscribe; /* where one click ends mail to the client, or NULL */
    char *kind;
    char *client;
    char *gateway;
    int64_t at_ms;
    int64_t end_ms;
    int64_t claimed_ms; /* when it passed the gate */
    bool to_client;
    bool doubtful; /* its gateway may hold it already: where that can be asked, it is asked first */
} Claim;

void claim_free(Claim *claim);

/* Enough of it for an outcome. */
Claim *claim_mark(const Claim *claim);

/* Does a row of the outbox go to the client whom it is about? */
bool claim_goes_to_client(const Row *row);

/* Marks a row of the outbox as being written by the gateway, and puts it. */
Claim *claim_take(Job *job, Row *row, const Gateway *gateway);

/* Leave to claim messages of a channel for a gateway while they are made: they need not wait in the outbox for a second job.
 * The relay gives it to a job where nothing else could have a say: the gateway takes all of the channel, and can be asked about
 * what it was given or drops a second one, should osier end meanwhile. */
typedef struct Grant {
    Channel channel;
    char *gateway;
    int most;
    int left;          /* of them */
    GPtrArray *claims; /* of Claim, for the relay once the job is kept */
} Grant;

Grant *grant_new(Channel channel, const char *gateway, int most);
void grant_free(Grant *grant);

/* Claims a row that is about to be put for the first time, by the job's grant; the gate must have let it through in this job. False
 * where there is no grant for it: nothing was put. */
bool grant_use(Job *job, Row *row);

#endif
