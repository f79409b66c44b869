/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what is to be done: due things and messages that wait. Arrays hold Row and free them.
 * Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_WORK_H
#define OSIER_ADAPTERS_STORE_FIND_WORK_H

#include "adapters/store/store.h"

/* Up to limit due things at or before now, oldest first. */
GPtrArray *find_due(Tx *tx, int64_t now_ms, int limit);

/* Every due thing of a kind, oldest first. */
GPtrArray *find_due_kind(Tx *tx, const char *kind);

/* The instant of the next due thing, and of the next message of a channel that may be tried;
 * INT64_MAX: none. */
int64_t find_next_due(Tx *tx);
int64_t find_next_send(Tx *tx, const char *channel);

/* Does an alert or a safety text wait, whenever it may be tried? */
bool find_urgent(Tx *tx);

/* Sets, moves (one for each kind and key) or drops a due thing. client and body may be NULL. */
void due_set(Tx *tx, const char *kind, const char *key, int64_t at_ms, const char *client,
             const char *body);
void due_drop(Tx *tx, const char *kind, const char *key);

bool due_is_set(Tx *tx, const char *kind, const char *key);

/* The due thing of that kind and key, or NULL. */
Row *due_get(Tx *tx, const char *kind, const char *key);

/* Up to limit waiting messages of a channel whose time has come: rank first, then the oldest due.
 */
GPtrArray *find_ready(Tx *tx, const char *channel, int64_t now_ms, int limit);

/* Messages in that state. */
GPtrArray *find_outbox(Tx *tx, const char *state);

/* Everything in the outbox made since then; client NULL for all. */
GPtrArray *find_outbox_of(Tx *tx, const char *client, int64_t since_ms);

/* Calls about an alert to that address that have not gone out yet. */
GPtrArray *find_calls_waiting(Tx *tx, const char *alert, const char *to);

/* How many messages of the started kinds (reminder, nudge, checkin, welcome) to a client lie in the
 * span, waiting ones included, lapsed ones not. */
int find_started(Tx *tx, const char *client, int64_t from_ms, int64_t to_ms);

/* The same of many clients where the store is far: a call for each such message. A client of whom tx_can_be_among is false is left
 * out. */
typedef void StartedEach(const char *client, void *context);
void find_started_among(Tx *tx, const GPtrArray *clients, int64_t from_ms, int64_t to_ms,
                        StartedEach *each, void *context);

/* How many texts that call a clinician about an alert have not got out yet. */
int find_unsent_texts(Tx *tx, const char *alert);

/* How many wrong codes came from that number since then; and notes that so many came with a reply. What is older than a day
 * is forgotten. */
int find_wrong_codes(Tx *tx, const char *number, int64_t since_ms);
void wrong_code_add(Tx *tx, const char *reply, const char *number, int64_t at_ms, int tries);

/* Keeps a receipt that no message is known for yet (the newest some thousand, for two days); takes one out again: NULL
 * where there is none. */
void receipt_keep(Tx *tx, const char *gateway, const char *gateway_id, const char *fate,
                  int64_t at_ms);
Row *receipt_take(Tx *tx, const char *gateway, const char *gateway_id);

/* One-time codes sent to that number and not yet used. */
GPtrArray *find_codes(Tx *tx, const char *number, const char *code);

#endif
