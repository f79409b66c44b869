/* SPDX-License-Identifier: Apache-2.0 */
/* Messages between the outbox and their fates. Store thread. */
#ifndef OSIER_DAEMON_JOBS_SETTLE_H
#define OSIER_DAEMON_JOBS_SETTLE_H

#include "core/clinic/route.h"
#include "core/wire/message.h"
#include "daemon/jobs/claim.h"

/* Claims up to limit messages of a channel for a gateway, those of its route (NULL: all): each goes through the last gate,
 * and is marked writing, put off or lapsed. Adds Claims to the array. */
void settle_claim(Job *job, Channel channel, const Gateway *gateway, const Route *route, int limit,
                  GPtrArray *claims);

/* Up to limit messages whose time has come, of each channel for which the clinic has no gateway: failed, and whom they
 * were for is told as of what cannot be delivered. */
void settle_untaken(Job *job, int limit);

typedef enum {
    OUTCOME_PLAIN,
    OUTCOME_SICK, /* the gateway, not the person, is at fault: tried again */
    OUTCOME_HELD, /* refused, and it is not yet known whether the gateway refuses everybody: a second outcome follows
                      * within OUTCOME_HOLD_MS */
    OUTCOME_UNTRIED, /* it was given back before it left: as if it had not been claimed */
    OUTCOME_FREED    /* its gateway was asked and has none: as if it had never been tried there */
} OutcomeManner;

#define OUTCOME_HOLD_MS (10 * MINUTE_MS)

/* What became of a claim. */
typedef struct {
    Claim *claim;
    Settlement settlement;
    OutcomeManner manner;
} Outcome;

/* Records outcomes: final ones as message.settled, the rest back to waiting by the back-off. */
void settle_outcome(Job *job, const Outcome *outcome);

/* Messages that were being written when osier last stopped: by core/clinic/repeat.h. */
void settle_interrupted(Job *job);

/* Messages bound to a gateway that has left the settings, or no longer promises what it did. */
void settle_unbind(Job *job);

/* A message to a client came to nothing for good: a clinician hears of it. */
void settle_open_failed(Job *job, const char *client, const char *kind, const char *message,
                        const char *reason);

/* A receipt from a gateway. False where it is for no message known: it is kept for a while, for it may have overtaken the
 * answer to the send. */
bool settle_receipt(Job *job, const char *gateway, const Receipt *receipt);

/* Back-off of the n-th try (from 1), in milliseconds, jitter included: a share of the span drawn
 * from the message's id, so that a restart changes nothing. Never more than most_ms. */
#define SETTLE_BACKOFF_MOST_MS (15 * MINUTE_MS)
int64_t settle_backoff(const char *message, int attempts, int64_t most_ms);

#endif
