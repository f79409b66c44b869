/* SPDX-License-Identifier: Apache-2.0 */
/* Opens alerts, passes them on until they are taken, and closes them. Store thread. */
#ifndef OSIER_DAEMON_JOBS_ALERT_H
#define OSIER_DAEMON_JOBS_ALERT_H

#include "core/watch/matter.h"
#include "daemon/desk/person.h"

/* So long after it was taken, an outcome is asked for. */
#define ALERT_OUTCOME_WANTED_MS (2 * HOUR_MS)

/* What an alert is opened for. */
typedef struct {
    const char *kind;
    AlertClass class;
    bool hold;         /* set a hold on the client */
    const char *cause; /* id of the reply, session or message that it follows from */
    json_t *reasons;   /* lent */
    bool apart; /* never one matter with another: of somebody unknown, of a gateway, of consent */
} Opening;

/* Opens an alert about a client (person NULL: about the clinic itself) and makes the first call
 * due. One matter, one alert: where one of that kind and at least that class is not closed, the new
 * cause is passed to it instead and its id is given. The id is the caller's to g_free. */
char *alert_open(Job *job, const Person *person, const Opening *opening);

/* An alert has come due: calls the next on the duty list, or does nothing where it is taken or
 * closed. */
void alert_pass_on(Job *job, const char *alert);

/* Two hours after it was taken without an outcome: passed on. */
void alert_taken_late(Job *job, const char *alert);

/* Whoever took the alert hears at once that there is more to it; where that is nobody of the duty
 * list, the next on the list does. */
void alert_tell_taker(Job *job, const Person *client, const Row *alert, const char *cause);

/* Opens an alert where a client's run of missed days has reached the clinic's limit. cause: the
 * session that was the last of it. */
void alert_missed_run(Job *job, const char *client, const char *cause);

/* Takes an alert for a clinician. via: "command", "text", "page". False where it is closed, or
 * taken by the same. The reply that raised it counts as settled by the one who took it. */
bool alert_take(Job *job, const char *alert, const char *by, const char *via);

/* Tells the client what was decided about an alert, once; late, a day after it was, no more. */
void alert_tell_outcome(Job *job, const Person *person, const Row *alert, const char *outcome,
                        int64_t at_ms);

/* Closes an alert with an outcome (resume, step-back, refer, end), which tells the client in plain
 * words, unless other matters still hold the client. resume and step-back lift the hold that the
 * alert set, and the suspension that the same reply caused. After refer the hold stands, and the
 * alert may be closed once more with what came of it. *why (static text) where it cannot be. */
bool alert_close(Job *job, const char *alert, const char *outcome, const char *by, const char *note,
                 const char **why);

#endif
