/* SPDX-License-Identifier: Apache-2.0 */
/* What a batch of like things will ask the store for, asked for together before it begins: where the store is another process each
 * question waits for it. Changes nothing of what is decided, and near by does nothing. Store thread. */
#ifndef OSIER_DAEMON_JOBS_AHEAD_H
#define OSIER_DAEMON_JOBS_AHEAD_H

#include "daemon/desk/desk.h"

/* Before these rows of the due index are met; ended once they are. */
void ahead_of_due(Job *job, const GPtrArray *due);

/* Before the gate is asked about these rows of the outbox; ended once it was. */
void ahead_of_claims(Job *job, const GPtrArray *rows);

/* Before it is written down what became of messages: ids of messages, and what the gateway calls them (NULL: it did not say). */
void ahead_of_fates(Job *job, const GPtrArray *messages, const char *gateway,
                    const GPtrArray *gateway_ids);

/* find_started, known from before or not. What was counted before serves once: whoever asks again may have written since. */
int ahead_started(Job *job, const char *client, int64_t from_ms, int64_t to_ms);

/* May several clients have that number? False only where the batch was asked about it before, and they do not. */
bool ahead_may_share(Job *job, const char *number);

/* A message to the client was written: what was counted before no longer holds. */
void ahead_posted(Job *job, const char *client);

/* Ends what ahead_of_due or ahead_of_claims began: none begins within another. */
void ahead_end(Job *job);

#endif
