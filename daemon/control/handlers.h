/* SPDX-License-Identifier: Apache-2.0 */
/* The handlers of the JSON API, by the file that holds them; docs/api.md tells what each takes and
 * gives. */
#ifndef OSIER_DAEMON_CONTROL_HANDLERS_H
#define OSIER_DAEMON_CONTROL_HANDLERS_H

#include "core/practice/start.h"
#include "daemon/control/call.h"
#include "daemon/control/client_entry.h"
#include "daemon/jobs/ready.h"
#include "daemon/jobs/schedule.h"

/* clients.c */
bool handle_client_add(Job *job, Call *call);
bool handle_client_list(Job *job, Call *call);
bool handle_client_show(Job *job, Call *call);
bool handle_client_set(Job *job, Call *call);
json_t *client_json(const Person *person);
json_t *bars_json(const Person *person);            /* those in force */
json_t *also_json(Job *job, const Person *person);  /* the client's other ids */
json_t *conflicts_of(Job *job, const char *client); /* that are to be settled */
/* Writes a new client, as client_entry_read_new read it, with the consent; the id is the caller's (g_free). It is drawn
 * from the part-th of so many parts of all ids (0, 1: any): what comes in by the thousand in the order of its ids is written
 * many times faster. */
char *client_put(Job *job, Call *call, const ClientEntry *entry, uint64_t part, uint64_t parts);

/* bars.c */
bool handle_client_pause(Job *job, Call *call);
bool handle_client_resume(Job *job, Call *call);
bool handle_client_end(Job *job, Call *call);
bool handle_client_same(Job *job, Call *call); /* same.c */

/* screens.c: the alert of that kind says that the plan no longer suits what a fresh screen found. */
#define SCREEN_MATTER "screen"
bool handle_screen(Job *job, Call *call);
json_t *screen_json(Job *job, const char *client);

/* plans.c */
bool handle_plan_set(Job *job, Call *call);
bool handle_plan_show(Job *job, Call *call);
json_t *plan_json(Job *job, const Person *person);

/* plan_own.c: what the call sets otherwise than the programme goes into the fields of plan.set
 * (false after answering); and what of the plan is set so, with its movements, goes into its
 * document. */
bool plan_own_take(Call *call, const Programme *programme, const Stage *stage,
                   const ScreenFound *screen, json_t *fields);
void plan_own_json(Job *job, const Person *person, json_t *document);

/* Days of the week with a session, as the plan's rule gives them over the weeks to come. */
int plan_days_a_week(Job *job, const Person *person);

/* moves.c */
bool handle_ready(Job *job, Call *call);
bool handle_plan_move(Job *job, Call *call);

/* May the client come to a later stage? Not on hold, and not over an open alert, whatever the verdict; those of the kind
 * but (or NULL) aside. False after answering 77. */
bool move_on_check(Job *job, Call *call, const Person *person, const Stage *stage, const char *but);

/* measures.c */
bool handle_measure_add(Job *job, Call *call);

/* measure_list.c: the at-th of the client's measures (rows: oldest first) beside the one before it. */
bool handle_measure_list(Job *job, Call *call);
json_t *measure_json(Job *job, const Person *person, const GPtrArray *rows, guint at);
json_t *json_rounded(double value); /* to one decimal */

/* course.c */
bool handle_sessions(Job *job, Call *call);
bool handle_report(Job *job, Call *call);
bool handle_adherence(Job *job, Call *call);

/* alerts.c */
bool handle_alert_list(Job *job, Call *call);
bool handle_alert_open(Job *job, Call *call);
bool handle_alert_take(Job *job, Call *call);
bool handle_alert_close(Job *job, Call *call);
json_t *alert_json(const Row *alert);

/* post.c */
bool handle_messages(Job *job, Call *call);
bool handle_replies(Job *job, Call *call);
bool handle_unread(Job *job, Call *call);
bool handle_unread_settle(Job *job, Call *call);
bool handle_glance(Job *job, Call *call);
bool handle_glance_seen(Job *job, Call *call);

/* overview.c */
bool handle_calls(Job *job, Call *call);

bool handle_why(Job *job, Call *call);
bool handle_status(Job *job, Call *call);

/* today.c */
bool handle_today(Job *job, Call *call);

/* overview.c: whom to ring, in order, so many at most. */
json_t *calls_json(Job *job, guint most);

/* roster.c */
bool handle_roster(Job *job, Call *call);
bool handle_course(Job *job, Call *call);

/* pictures.c. And what a picture shows, in words: of a movement's set-up, null where that is not
 * drawn (new reference); the course of the last days (picture_free). */
bool handle_course_picture(Job *job, Call *call);
bool handle_setup_picture(Job *job, Call *call);
json_t *setup_picture_json(Job *job, const Person *person, const Ready *ready,
                           const Movement *movement);
Picture *course_picture(Job *job, const Person *person, int days);

/* paper.c */
bool handle_handout(Job *job, Call *call);

/* enrol.c */
bool handle_programmes(Job *job, Call *call);
bool handle_enrolment(Job *job, Call *call);

/* accounts.c: who may enter the page */
bool handle_account_list(Job *job, Call *call);
bool handle_account_add(Job *job, Call *call);
bool handle_account_link(Job *job, Call *call);
bool handle_account_close(Job *job, Call *call);
bool handle_looks(Job *job, Call *call);
/* The name, as it is written there, of a clinician with an account or on the duty list (g_free); NULL where there is none of it. */
char *clinician_named(Job *job, const char *name);

/* summary.c: what is known of a client (new reference); words: word for word as well. */
bool handle_client_summary(Job *job, Call *call);
bool handle_client_record(Job *job, Call *call);
json_t *summary_json(Job *job, const Person *person, bool words);

/* erase.c */
bool handle_client_erase(Job *job, Call *call);

/* imports.c: clients out of a spreadsheet */
bool handle_import_list(Job *job, Call *call);
bool handle_import_people(Job *job, Call *call);
bool handle_import_check(Job *job, Call *call);
bool handle_import_add(Job *job, Call *call);
bool handle_import_end(Job *job, Call *call);
bool handle_import_undo(Job *job, Call *call);

/* drafts.c: plans out of another system */
bool handle_draft_list(Job *job, Call *call);
bool handle_draft_confirm(Job *job, Call *call);
bool handle_draft_drop(Job *job, Call *call);

/* calendar.c */
bool handle_calendar(Job *job, Call *call);
bool handle_reviews(Job *job, Call *call);
bool handle_feed_make(Job *job, Call *call);
bool handle_feed_revoke(Job *job, Call *call);

/* sync.c */
bool handle_sync_status(Job *job, Call *call);
bool handle_sync_unpair(Job *job, Call *call);
bool handle_sync_bundle(Job *job, Call *call);
bool handle_sync_take(Job *job, Call *call);

/* conflicts.c: what two people set differently without seeing each other's. */
bool handle_conflict_list(Job *job, Call *call);
bool handle_conflict_settle(Job *job, Call *call);
int conflicts_count(Job *job);
bool handle_sender_show(Job *job, Call *call);
bool handle_sender_take(Job *job, Call *call);

/* week.c */
bool handle_week(Job *job, Call *call);
bool handle_week_paper(Job *job, Call *call);

#endif
