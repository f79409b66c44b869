/* SPDX-License-Identifier: Apache-2.0 */
/* The sessions of a plan as time goes by: the next one is kept in the due index; when its time
 * comes it is asked, or closed with the reason why it was not; later it is nudged once, and closed
 * silent where nothing came. Store thread. */
#ifndef OSIER_DAEMON_JOBS_SCHEDULE_H
#define OSIER_DAEMON_JOBS_SCHEDULE_H

#include "daemon/desk/person.h"

/* Sets the client's next session after an instant into the due index, or drops it where the plan
 * has none. */
void schedule_next(Job *job, const Person *person, int64_t after_ms);

/* A due session's time has come. body: what schedule_next wrote. */
void schedule_session(Job *job, const char *client, const char *body);

/* Meets each session whose time has come and that the clock has not yet brought up: to be done before what a plan's times
 * hang on is changed, after which they could not be found any more. Nothing on a replica that does not send. */
void schedule_overdue(Job *job, const char *client);

/* Time for the one nudge, and time to close an unanswered session. */
void schedule_nudge(Job *job, const char *session);
void schedule_silent(Job *job, const char *session);

/* Time to close a session that was for a telephone call. */
void schedule_call(Job *job, const char *client, const char *session, const char *body);

/* A pause has run out. key: the bar's id. */
void schedule_pause_over(Job *job, const char *client, const char *bar);

/* The plan's session on that date with that slot. False where the plan has none. */
bool schedule_find(Job *job, const Person *person, Day date, int slot, SessionInstant *instant);

/* The same, by the body of a due session or call, and by the plan as it stands now: a session that the plan no longer has
 * is not found. */
bool schedule_find_due(Job *job, const Person *person, const char *body, SessionInstant *instant);

/* Has the plan as it stands now a session on the client's local day of that instant? */
bool schedule_has_day(Job *job, const Person *person, int64_t ms);

/* The id of the session that a client's due body is for (g_free), or NULL. */
char *schedule_session_due(const char *client, const char *body);

/* What a session's reminder is for: id_message of it is the reminder's id (g_free). */
char *schedule_purpose(const char *session);

/* The session.asked or session.closed fields that name a session (new reference). */
json_t *session_body(const Person *person, const char *session, const SessionInstant *instant);

#endif
