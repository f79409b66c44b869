/* SPDX-License-Identifier: Apache-2.0 */
/* Gathers what readiness is judged by: sessions, reports, measures, alerts, bars, the screen. Store
 * thread. */
#ifndef OSIER_DAEMON_JOBS_READY_H
#define OSIER_DAEMON_JOBS_READY_H

#include "core/practice/readiness.h"
#include "daemon/desk/person.h"
#include "daemon/desk/screened.h"

typedef struct {
    ReadyAsk ask;
    ReadyAnswer answer;
    Screened *screen;
    GPtrArray *rows;  /* of Row: lend texts to ask */
    GArray *sessions; /* of ReadySession */
    GArray *readings; /* of ReadyReading */
} Ready;

/* NULL where the client has no plan, or the programme no longer has its stage. */
Ready *ready_judge(Job *job, const Person *person);
void ready_free(Ready *ready);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Ready, ready_free)

/* The document of `osier ready` (new reference). */
json_t *ready_json(const Person *person, const Ready *ready);

/* The last local day with a session done or partly done, or the day the plan's stage began where
 * there is none since. */
Day ready_last_practice(const Ready *ready);

#endif
