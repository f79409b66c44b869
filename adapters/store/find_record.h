/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what has happened: sessions, reports, replies, alerts, messages. Arrays hold Row and free
 * them. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_RECORD_H
#define OSIER_ADAPTERS_STORE_FIND_RECORD_H

#include "adapters/store/store.h"

/* Sessions of a client with dates in from..to ("2026-03-02", inclusive), in order. */
GPtrArray *find_sessions(Tx *tx, const char *client, const char *from, const char *to);

/* The latest session of a client asked at or before an instant (row_free), or NULL. */
Row *find_asked(Tx *tx, const char *client, int64_t before_ms);

/* Sessions of a client, newest date first; and those alone that were done, partly done, not done or not told of. */
GPtrArray *find_last_sessions(Tx *tx, const char *client, int limit);
GPtrArray *find_last_outcomes(Tx *tx, const char *client, int limit);

/* The reports of a client with from <= at < to, oldest first. */
GPtrArray *find_reports(Tx *tx, const char *client, int64_t from_ms, int64_t to_ms);

/* Replies: client, state NULL for all; arrived at or after since; oldest first. */
GPtrArray *find_replies(Tx *tx, const char *client, const char *state, int64_t since_ms);

/* When anything was last heard of a client: the latest of replies, reports and consents given; 0: never. */
int64_t find_last_word(Tx *tx, const char *client);

/* Up to limit replies stored and not yet read, in the order in which they came, those of one instant included. */
GPtrArray *find_received(Tx *tx, int limit);
GPtrArray *find_glance(Tx *tx);
int find_fingerprint(Tx *tx, const char *fingerprint);
/* When a reply was first taken in, which is known although its words are gone; 0: never. */
int64_t find_first_heard(Tx *tx, const char *reply);

/* Alerts: all or those not closed; of a client or NULL for all; now first, then by time. */
GPtrArray *find_alerts(Tx *tx, const char *client, bool all);

/* The gravest alert of that client and kind that is not closed, or NULL. */
Row *find_open_alert(Tx *tx, const char *client, const char *kind);

/* Alerts opened in from <= at < to. */
GPtrArray *find_alerts_between(Tx *tx, int64_t from_ms, int64_t to_ms);

/* Settled messages, oldest first; client NULL for all. */
GPtrArray *find_messages(Tx *tx, const char *client, int64_t since_ms);
Row *find_message_by_gateway_id(Tx *tx, const char *gateway, const char *gateway_id);

/* How many messages made since then a gateway accepted before an instant and has told no more of. */
int find_untold(Tx *tx, const char *gateway, int64_t since_ms, int64_t before_ms);

/* What the messages of a span cost. */
void find_cost(Tx *tx, int64_t from_ms, int64_t to_ms, int64_t *segments, double *price);

/* Times in which osier was not listening that touch the span. */
GPtrArray *find_away(Tx *tx, int64_t from_ms, int64_t to_ms);

#endif
