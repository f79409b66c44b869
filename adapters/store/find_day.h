/* SPDX-License-Identifier: Apache-2.0 */
/* Finds what one day of the whole clinic looks like, without loading a client. Inside a job. */
#ifndef OSIER_ADAPTERS_STORE_FIND_DAY_H
#define OSIER_ADAPTERS_STORE_FIND_DAY_H

#include "adapters/store/store.h"

/* A session that was met, or one that is still to come (state "planned"). Texts are owned; name is
 * JSON text. */
typedef struct {
    char *client;
    char *name;
    char *session;
    char *local;
    char *zone; /* of local; NULL where that is */
    char *state;
    int64_t utc_ms;
    bool reported; /* something was told of it */
} DaySession;

/* Sessions with from <= utc < to (GPtrArray of DaySession, which it frees): first what was not done
 * or only in part, then what waits for an answer, then the rest; limit at most. */
GPtrArray *find_day_sessions(Tx *tx, int64_t from_ms, int64_t to_ms, int limit);

/* The next sessions of clients that come due before an instant, soonest first; limit at most. */
GPtrArray *find_day_coming(Tx *tx, int64_t before_ms, int limit);

/* How many clients have their next session before an instant. */
int find_day_coming_count(Tx *tx, int64_t before_ms);

/* Called for each state that sessions of the span have, with how many. */
typedef void DayCount(const char *state, int count, void *context);
void find_day_counts(Tx *tx, int64_t from_ms, int64_t to_ms, DayCount *each, void *context);

/* The ids and JSON names of clients, (GPtrArray of char *[2], which it frees), in no order. */
GPtrArray *find_names(Tx *tx);

#endif
